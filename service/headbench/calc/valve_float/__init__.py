"""Valve float: the speed at which a valve leaves its cam, and surge."""
