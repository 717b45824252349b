"""The capture process and what its rows mean: what recording and rehearsing share.

Nothing is imported here: the capture process lives in this package and must stay light.
"""
