"""Between leather and packing: where a panel may lie, pairs, several hides, what is left.

``plan`` turns an order into better and better valid layouts.
"""
