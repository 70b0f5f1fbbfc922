"""solderrisk: can this builder, with this bench, manage this kit?"""

__version__ = "0.1.0"
