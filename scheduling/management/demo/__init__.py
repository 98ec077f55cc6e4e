"""The demo: two invented studios in Tarn Hollow, read from fixtures/demo/ and booked through the services."""
