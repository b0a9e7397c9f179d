"""The same order on each of several hides: what each yields and costs, and which to buy or cut.

``trials`` says what is laid on what, ``laying`` lays it, ``best`` names the best line and why,
``buying`` the cheapest set of hides for so many pairs. ``typical`` stands in for hides not yet bought.
"""
