package plane

import "testing"

// Where the parts move both times alike the plane is a line, unless the board lies off it; where they do not it stays a plane.
func TestTogether(t *testing.T) {
	line := [][2]float64{{-0.1, -0.1}, {0, 0}, {0.1, 0.1}}
	spread := [2][2]float64{{1e-4, 0}, {0, 1e-4}}
	for name, c := range map[string]struct {
		region   [][2]float64
		measured [2]float64
		line     bool
	}{
		"on the line":               {line, [2]float64{0.3, 0.3}, true},
		"within its uncertainty":    {line, [2]float64{0.3, 0.33}, true},
		"beside it":                 {line, [2]float64{0.3, 0.4}, false},
		"an area":                   {[][2]float64{{-0.1, -0.1}, {0.1, 0}, {0.1, 0.1}}, [2]float64{0, 0}, false},
		"one longer, other shorter": {[][2]float64{{-0.1, 0.1}, {0.1, -0.1}}, [2]float64{0, 0}, false},
	} {
		p := Plane{Region: c.region, Measured: c.measured, Spread: spread, Curves: []Curve{{Points: [][2]float64{{0.2, 0.2}, {0.2, -0.2}}}}}
		p.together(p.Measured)
		if (p.Along != nil) != c.line {
			t.Errorf("%s: along %v", name, p.Along)
		}
		if q := p.Curves[0].Points; c.line && (q[0][0] != 0.2 || q[1][0] == q[1][0]) {
			t.Errorf("%s: what leaves the line is drawn on it: %v", name, q)
		}
	}
}
