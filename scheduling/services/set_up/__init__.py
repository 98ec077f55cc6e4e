"""Setting up a studio: what exists there, and what it can do. What is booked stays as it was booked."""
