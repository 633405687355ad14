// Package series knows the preferred values of parts (IEC 60063:2015, E3 to E192): the values of a decade,
// a value's neighbours, and decade slips. Every value is the float64 nearest the decimal number, so that 4.7e3 equals a
// parsed "4.7k".
package series

import (
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

// Series is every step-th number of a longer list whose numbers have the given figures.
type Series struct {
	list    []int
	step    int
	figures int
}

// The series from the coarsest to the finest. E24 is not inside E96 or E192.
var (
	E3   = Series{e24, 8, 2}
	E6   = Series{e24, 4, 2}
	E12  = Series{e24, 2, 2}
	E24  = Series{e24, 1, 2}
	E48  = Series{e192, 4, 3}
	E96  = Series{e192, 2, 3}
	E192 = Series{e192, 1, 3}
)

// decade gives the series' values from 10^exp up to, not including, 10^(exp+1), each correctly rounded.
func (s Series) decade(exp int) []float64 {
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

// Decade gives all values in nominal's decade, ascending, in nominal's unit; none where it is not positive and finite.
func (s Series) Decade(nominal float64) []float64 {
	if !usable(nominal) {
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

// Between gives the values from low to high, both included, ascending; none where these are not positive and finite.
func (s Series) Between(low, high float64) (out []float64) {
	if !usable(low) || !usable(high) {
		return nil
	}
	for e := exponent(low) - 1; e <= exponent(high)+1; e++ {
		for _, v := range s.decade(e) {
			if v >= low && v <= high {
				out = append(out, v)
			}
		}
	}
	return out
}

// Neighbours gives the values next below and next above v; v itself is neither. There are none of what is not positive and finite.
func (s Series) Neighbours(v float64) (below, above float64, ok bool) {
	if !usable(v) {
		return 0, 0, false
	}
	all := s.Between(v/100, v*100)
	i, found := slices.BinarySearch(all, v)
	above = all[i]
	if found {
		above = all[i+1]
	}
	return all[i-1], above, true
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
