"""The demo shop, Ottermill Drum Works: everything invented except the properties of the woods.

Each module holds one chapter of the shop's recipe book as plain rows; :mod:`shopfloor.demo.loading` puts them into an
empty database. Rows name each other by name, as people would.
"""
