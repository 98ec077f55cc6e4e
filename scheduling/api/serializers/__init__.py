"""What is sent and what is shown, resource by resource."""
