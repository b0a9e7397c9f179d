"""From a photograph of a hide on a ruled mat to a measured hide.

The only entry is ``nesting.capture.measure.measure_photograph``; ``nesting.capture.overlay`` draws
the picture that a person checks the result by.
"""
