"""The YAML spec: strict text, validated models, and the Draft made of them."""
