package retune

import (
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/fit"
	"offbeat/fit/circuit"
)

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

// reaching names the circuits that can have a duty factor between the limits.
func reaching(low, high float64) []string {
	var out []string
	for _, r := range reaches {
		if low < r.high && high > r.low {
			out = append(out, r.circuit)
		}
	}
	return out
}

// Could says, a sentence each, which circuit or timer could meet what no change of this one's parts meets.
func Could(d *fit.Design) (out []string) {
	slowest := 0.0
	for _, t := range d.Targets {
		switch t.Quantity {
		case "duty_factor":
			if all := reaching(t.Low, t.High); len(all) > 0 {
				s := quantity.ScaleOf(quantity.Number, 0, t.Low, t.High)
				out = append(out, "A duty factor of "+s.Digits(t.Low)+" … "+s.Format(t.High)+" suits the circuits "+strings.Join(all, ", ")+".")
			}
		case "frequency":
			slowest = max(slowest, t.Low)
		case "period":
			slowest = max(slowest, 1/t.High)
		}
	}
	if c, err := circuit.Of(d); err == nil && limitsOf(c, weakest(d)).tooFast(slowest) {
		out = append(out, "Above "+quantity.Format(ratings[fit.Bipolar].frequency, quantity.Hertz)+" a bipolar timer no longer follows its resistors and capacitor; a CMOS timer does.")
	}
	return out
}
