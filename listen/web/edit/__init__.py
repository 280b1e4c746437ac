"""The pages that edit the vocabulary."""
