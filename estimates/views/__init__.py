"""The screens of the estimate, one topic a module."""
