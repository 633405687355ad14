package fit

// Reading is a direct reading of a part, or of "supply" or "control" (the control pin), in SI units.
// Rectangular limits have Half > 0; a reading stated with a coverage factor has Standard > 0 and is normal.
type Reading struct {
	Name     string
	Value    float64
	Half     float64 // half-width of the limits, same unit as Value
	Standard float64 // standard uncertainty, same unit as Value
}
