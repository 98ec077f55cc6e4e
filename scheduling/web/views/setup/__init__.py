"""Setting a studio up, for its manager; its equipment and supplies for its technician, too."""
