package quantity

// Quantity is a value in its SI unit, with the tolerance that was written beside it.
type Quantity struct {
	Value     float64
	Unit      Unit
	Tolerance Tolerance
	Text      string // as written
}
