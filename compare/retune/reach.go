package retune

// reaches are the duty factors that the shipped circuits with two times of their own can have, by their first-order laws.
var reaches = []struct {
	circuit   string
	low, high float64
}{
	{"astable", 0.5, 1},              // (R1+R2)/(R1+2 R2)
	{"astable-diode", 0, 1},          // R1/(R1+R2)
	{"astable-output", 0.495, 0.505}, // R C either way
	{"comparator", 0.495, 0.505},     // likewise
	{"multivibrator", 0, 1},          // a side each
}

// Reaching names the circuits that can have a duty factor between the limits.
func Reaching(low, high float64) []string {
	var out []string
	for _, r := range reaches {
		if low < r.high && high > r.low {
			out = append(out, r.circuit)
		}
	}
	return out
}
