"""A finished run made into what a fab and a supplier are sent: files, lists, values of the order form."""
