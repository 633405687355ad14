package chart

import "math"

// Rule is one pattern: the last Window points, as distances from the centre in standard deviations, show it
// when Test says so. The point that completes the pattern carries the signal.
type Rule struct {
	Number int
	Name   string
	Window int
	Test   func(z []float64) bool
}

// Rules are the eight pattern tests of ISO 7870-2 (those of ISO 8258 figure 5; numbers from memory). The
// first alone gives a false alarm every 370 points, all eight together one in about every 50 to 60.
var Rules = []Rule{
	{1, "one point beyond 3 standard deviations", 1, func(z []float64) bool { return math.Abs(z[0]) > 3 }},
	{2, "nine points in a row on one side of the centre", 9, oneSide},
	{3, "six points in a row steadily rising or falling", 6, trend},
	{4, "fourteen points in a row up and down in turn", 14, alternates},
	{5, "two of three points beyond 2 standard deviations on one side", 3, beyond(2, 2)},
	{6, "four of five points beyond 1 standard deviation on one side", 5, beyond(4, 1)},
	{7, "fifteen points in a row within 1 standard deviation", 15, all(func(z float64) bool { return math.Abs(z) < 1 })},
	{8, "eight points in a row beyond 1 standard deviation, on either side", 8, all(func(z float64) bool { return math.Abs(z) > 1 })},
}

// Signal is a rule that fired.
type Signal struct {
	Rule  int    // its number
	Name  string // what it saw
	Point int    // index of the point that completed the pattern
}

// Signals applies every rule to points with their centres and standard deviations.
func Signals(points, centre, sigma []float64) []Signal {
	z := make([]float64, len(points))
	for i, x := range points {
		z[i] = (x - centre[i]) / sigma[i]
		if x == centre[i] {
			z[i] = 0 // also where sigma is nought
		}
	}
	return apply(Rules, z)
}

func apply(rules []Rule, z []float64) []Signal {
	var out []Signal
	for i := range z {
		for _, r := range rules {
			if i+1 >= r.Window && r.Test(z[i+1-r.Window:i+1]) {
				out = append(out, Signal{r.Number, r.Name, i})
			}
		}
	}
	return out
}

func all(is func(float64) bool) func([]float64) bool {
	return func(z []float64) bool {
		for _, x := range z {
			if !is(x) {
				return false
			}
		}
		return true
	}
}

func oneSide(z []float64) bool {
	return all(func(x float64) bool { return x*z[0] > 0 })(z)
}

func trend(z []float64) bool {
	for i := 1; i < len(z); i++ {
		if (z[i]-z[i-1])*(z[1]-z[0]) <= 0 {
			return false
		}
	}
	return true
}

func alternates(z []float64) bool {
	for i := 2; i < len(z); i++ {
		if (z[i]-z[i-1])*(z[i-1]-z[i-2]) >= 0 {
			return false
		}
	}
	return true
}

// beyond asks for so many of the window beyond the limit on the side of the last point, itself among them.
func beyond(count int, limit float64) func([]float64) bool {
	return func(z []float64) bool {
		side := math.Copysign(1, z[len(z)-1])
		if side*z[len(z)-1] <= limit {
			return false
		}
		n := 0
		for _, x := range z {
			if side*x > limit {
				n++
			}
		}
		return n >= count
	}
}
