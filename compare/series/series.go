// Package series knows the preferred values of parts (IEC 60063:2015, E3 to E192): the values of a decade,
// a value's neighbours, decade slips, and the single parts, series pairs and parallel pairs nearest a wanted
// value. Every value is the float64 nearest the decimal number, so that 4.7e3 equals a parsed "4.7k".
package series

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// e24 holds the two-figure values, which do not follow the rounded formula (IEC 60063 table 1).
var e24 = []int{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}

// e192 holds the three-figure values, round(100*10^(i/192)) with the standard's one exception: 920, not 919.
var e192 = threeFigures()

func threeFigures() []int {
	out := make([]int, 192)
	for i := range out {
		out[i] = int(math.Round(100 * math.Pow(10, float64(i)/192)))
	}
	out[185] = 920
	return out
}

// spec is one series: every step-th number of a longer list whose numbers have the given figures.
type spec struct {
	name    string
	list    []int
	step    int
	figures int
}

var specs = []spec{
	{"E3", e24, 8, 2},
	{"E6", e24, 4, 2},
	{"E12", e24, 2, 2},
	{"E24", e24, 1, 2},
	{"E48", e192, 4, 3},
	{"E96", e192, 2, 3},
	{"E192", e192, 1, 3},
}

// Names lists the series from the coarsest to the finest.
func Names() []string {
	out := make([]string, len(specs))
	for i, s := range specs {
		out[i] = s.name
	}
	return out
}

func find(name string) (spec, error) {
	for _, s := range specs {
		if s.name == strings.ToUpper(strings.TrimSpace(name)) {
			return s, nil
		}
	}
	return spec{}, fmt.Errorf("%q is no series of preferred values; expected one of %s", name, strings.Join(Names(), ", "))
}

// decade gives the series' values from 10^exp up to, not including, 10^(exp+1), each correctly rounded.
func (s spec) decade(exp int) []float64 {
	out := make([]float64, 0, len(s.list)/s.step)
	for i := 0; i < len(s.list); i += s.step {
		out = append(out, decimal(s.list[i], exp-s.figures+1))
	}
	return out
}

// decimal is the float64 nearest digits*10^exp; 0 or +Inf where that is out of range.
func decimal(digits, exp int) float64 {
	v, _ := strconv.ParseFloat(strconv.Itoa(digits)+"e"+strconv.Itoa(exp), 64) // the only error is range, and v then says it
	return v
}

// InDecade gives all values of the named series in nominal's decade, ascending, in nominal's unit. It is
// empty where nominal is not positive and finite, or the series is unknown.
func InDecade(nominal float64, name string) []float64 {
	s, err := find(name)
	if err != nil || !usable(nominal) {
		return nil
	}
	return s.decade(exponent(nominal))
}

// Slips gives nominal a decade up and a decade down, each the float64 nearest the decimal number.
func Slips(nominal float64) (up, down float64) {
	if !usable(nominal) {
		return math.NaN(), math.NaN()
	}
	return shift(nominal, 1), shift(nominal, -1)
}

// Between gives the values of the joined series from low to high, both included, ascending and each once.
// E24 is not inside E96 or E192, hence the joining.
func Between(low, high float64, names ...string) ([]float64, error) {
	if !usable(low) || !usable(high) {
		return nil, fmt.Errorf("preferred values from %v to %v: expected two positive numbers", low, high)
	}
	var out []float64
	for _, name := range names {
		s, err := find(name)
		if err != nil {
			return nil, err
		}
		for e := exponent(low) - 1; e <= exponent(high)+1; e++ {
			for _, v := range s.decade(e) {
				if v >= low && v <= high {
					out = append(out, v)
				}
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// Neighbours gives the series' values next below and next above v; v itself is neither.
func Neighbours(v float64, name string) (below, above float64, err error) {
	all, err := Between(v/100, v*100, name)
	if err != nil {
		return math.NaN(), math.NaN(), err
	}
	i, found := slices.BinarySearch(all, v)
	above = all[i]
	if found {
		above = all[i+1]
	}
	return all[i-1], above, nil
}

func usable(v float64) bool { return v > 0 && !math.IsInf(v, 1) }

// exponent is the decade of v. Seven figures are looked at, so that a value computed a hair under its
// decade (99.99999999 for 100) still counts to it.
func exponent(v float64) int {
	text := strconv.FormatFloat(v, 'e', 6, 64)
	e, _ := strconv.Atoi(text[strings.IndexByte(text, 'e')+1:]) // FormatFloat's own form
	return e
}

func shift(v float64, by int) float64 {
	text := strconv.FormatFloat(v, 'e', -1, 64)
	i := strings.IndexByte(text, 'e')
	e, _ := strconv.Atoi(text[i+1:]) // FormatFloat's own form
	out, _ := strconv.ParseFloat(text[:i]+"e"+strconv.Itoa(e+by), 64)
	return out
}
