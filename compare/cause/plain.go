package cause

import (
	"fmt"
	"math"
	"strings"

	"offbeat/compare/series"
)

// fitted names the plain thing: the preferred value nearest to the k-th parameter, what it sits in the place of, and its
// marking: "100 nF fitted for 10 nF, marked 104; estimate 99.6 nF".
func (s *Said) fitted(k int) string {
	p, v := s.Parameters[k], s.Values[k]
	below, above, ok := series.E24.Neighbours(v)
	if !ok {
		return "about " + s.Value(k) + ", " + s.Deviation(k)
	}
	near := below
	if above/v < v/below {
		near = above
	}
	if s.Brief {
		return Format(near, p.Unit) + " fitted for " + Format(p.Nominal, p.Unit)
	}
	return fmt.Sprintf("%s fitted for %s, marked %s; estimate %s", Format(near, p.Unit), Format(p.Nominal, p.Unit), marking(near, p.Unit), s.Value(k))
}

// marking is the three-character code of a value of two significant digits (IEC 60062:2016, clause 4): digits and the power
// of ten, in ohm or in picofarad; below ten the letter stands at the point.
func marking(v float64, unit string) string {
	letter := "R"
	if unit == "F" {
		v, letter = v*1e12, "p"
	}
	if v < 9.95 {
		return strings.Replace(fmt.Sprintf("%.1f", v), ".", letter, 1)
	}
	power := math.Floor(math.Log10(v)*(1+1e-12)) - 1
	digits := math.Round(v / math.Pow(10, power))
	if digits >= 100 {
		digits, power = digits/10, power+1
	}
	return fmt.Sprintf("%.0f%.0f", digits, power)
}

// probe is the resistance of the usual probe at ten to one, and near by what factor a leak must come to look like one
// (common practice).
const (
	probe = 10e6
	near  = 1.25
)

// leak names a resistance across a capacitor, and the plain thing that it may be.
func (s *Said) leak(k int) string {
	text := "about " + s.Value(k)
	if r := s.Values[k] / probe; r > 1/near && r < near {
		text += ", what a 10 MΩ probe puts there"
	}
	return text
}
