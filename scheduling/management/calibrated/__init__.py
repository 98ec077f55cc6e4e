"""What `manage.py calibrate` prints and draws."""
