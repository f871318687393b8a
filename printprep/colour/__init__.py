"""The science: Lab and hue-linear spaces, visible steps, appearance, gamut solids, ICC transforms; arrays only."""
