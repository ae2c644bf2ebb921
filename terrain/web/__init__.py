"""The desk on a web page: riders upload, staff answer bookings, guides plan."""
