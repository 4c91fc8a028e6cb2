"""evenpour: re-commissioning of petrol engines with continuous-flow mechanical fuel injection."""

__version__ = "0.1.0"
