"""The judge's rules, one file each; `casting/verify.py` asks them all."""
