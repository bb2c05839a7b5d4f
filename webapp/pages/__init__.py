"""The pages: one thin router a family; they call services and answer with templates."""
