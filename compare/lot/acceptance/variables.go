package acceptance

import (
	"fmt"
	"math"

	"strings"

	"gonum.org/v1/gonum/integrate/quad"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// variablesAQLs are the columns of the variables tables, in percent.
var variablesAQLs = []float64{0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10}

// strictness holds the maximum allowable estimated percent nonconforming M by sample size, from the strictest step on:
// spread unknown, standard-deviation method (MIL-STD-414 Tables B-3 and B-4, letters as re-assigned in ANSI/ASQ Z1.9;
// these are not the plans of ISO 3951). One table serves the three inspections: a plan of normal inspection stands one
// step further right than its AQL's column, one of tightened inspection in it, and one of reduced inspection, with its
// own smaller sample, two further right. 0: no plan; the next larger sample has it.
var strictness = []struct {
	n int
	m [13]float64
}{
	{3, [13]float64{8: 7.59, 18.86, 26.94, 33.69, 40.47}},
	{4, [13]float64{6: 1.49, 5.46, 10.88, 16.41, 22.84, 29.43, 36.79}},
	{5, [13]float64{4: 0.041, 1.34, 3.33, 5.82, 9.8, 14.37, 20.19, 26.55, 33.94}},
	{7, [13]float64{1: 0.005, 0.087, 0.421, 1.05, 2.13, 3.54, 5.34, 8.4, 12.19, 17.34, 23.3, 30.5}},
	{10, [13]float64{0.077, 0.179, 0.349, 0.714, 1.27, 2.14, 3.27, 4.72, 7.26, 10.53, 15.17, 20.73, 27.65}},
	{15, [13]float64{0.186, 0.311, 0.491, 0.839, 1.33, 2.09, 3.06, 4.32, 6.55, 9.48, 13.74, 18.97, 25.63}},
	{20, [13]float64{0.228, 0.356, 0.531, 0.864, 1.33, 2.03, 2.93, 4.1, 6.18, 8.95, 13.01, 18.07, 24.58}},
	{25, [13]float64{0.25, 0.378, 0.551, 0.874, 1.32, 2, 2.86, 3.97, 5.98, 8.65, 12.6, 17.55, 23.97}},
	{30, [13]float64{2: 0.567, 0.885, 1.32, 1.98, 2.82, 3.91, 5.87, 8.48, 12.37, 17.25, 23.61}},
	{35, [13]float64{0.253, 0.373, 0.534, 0.833, 1.24, 1.87, 2.66, 3.7, 5.58, 8.11, 11.89, 16.67}},
	{50, [13]float64{0.243, 0.355, 0.503, 0.778, 1.16, 1.73, 2.47, 3.44, 5.21, 7.61, 11.23, 15.87, 21.99}},
	{75, [13]float64{0.225, 0.326, 0.461, 0.711, 1.06, 1.59, 2.27, 3.17, 4.83, 7.1, 10.58, 15.07, 21.05}},
	{100, [13]float64{0.218, 0.315, 0.444, 0.684, 1.02, 1.52, 2.18, 3.06, 4.67, 6.88, 10.29, 14.71}},
	{150, [13]float64{0.202, 0.292, 0.412, 0.636, 0.946, 1.42, 2.05, 2.88, 4.42, 6.56, 9.86, 14.18}},
	{200, [13]float64{0.204, 0.294, 0.414, 0.637, 0.945, 1.42, 2.04, 2.86, 4.39, 6.52, 9.8, 14.11}},
}

// variablesLetters are the code letters of the variables tables, variablesSizes their sample sizes by inspection.
const variablesLetters = "BCDEFGHIJKLMNP"

var variablesSizes = map[Inspection][]int{
	Normal:    {3, 4, 5, 7, 10, 15, 20, 25, 35, 50, 75, 100, 150, 200},
	Tightened: {3, 4, 5, 7, 10, 15, 20, 25, 35, 50, 75, 100, 150, 200},
	Reduced:   {3, 3, 3, 3, 4, 5, 7, 10, 15, 20, 25, 30, 50, 75},
}

// step is how far right of an AQL's column an inspection's plans stand in strictness.
var step = map[Inspection]int{Tightened: 0, Normal: 1, Reduced: 2}

// variablesLevels are the inspection levels of ANSI/ASQ Z1.9 Table A-2: the code letters by lot size.
var variablesLevels = map[string]string{
	"S-3": "BBBBBBBCCDEFGHHH",
	"S-4": "BBBBBCDEEFGHIJKK",
	"I":   "BBBCDEFGGHIJKLMN",
	"II":  "BBCDEFGHIJKLMNPP",
	"III": "CDEFGHIJJKLMNPPP",
}

// variablesLotSizes are the largest lots of Table A-2's rows but the last, which has no end.
var variablesLotSizes = []int{8, 15, 25, 50, 90, 150, 280, 400, 500, 1200, 3200, 10000, 35000, 150000, 500000}

// VariablesPlan is a plan by variables, MIL-STD-414 standard-deviation method.
type VariablesPlan struct {
	Inspection Inspection
	Letter     string
	Size       int     // n
	AQL        float64 // percent
	M          float64 // largest estimated fraction nonconforming that is accepted (form 2)
	K          float64 // smallest quality index that is accepted (form 1, the k method)
	LotSize    int     // 0: not given
	How        string  // how the plan was found, for the reader
}

// VariablesByLot finds the plan for a lot size, level (S-3, S-4, I, II, III; empty: II), inspection and AQL in percent.
func VariablesByLot(lotSize int, level string, inspection Inspection, aql float64) (VariablesPlan, error) {
	letter, err := letterOf(variablesLevels, variablesLotSizes, lotSize, level, "S-3, S-4, I, II or III for a plan by variables")
	if err != nil {
		return VariablesPlan{}, err
	}
	p, err := variablesPlan(strings.Index(variablesLetters, letter), inspection, aql)
	p.LotSize = lotSize
	return p, err
}

// VariablesBySample finds the largest plan whose sample size the measured items reach, where the lot size is not known;
// where they reach none, the smallest.
func VariablesBySample(measured int, inspection Inspection, aql float64) (VariablesPlan, error) {
	best, err := variablesPlan(0, inspection, aql)
	for i := range variablesLetters {
		if p, _ := variablesPlan(i, inspection, aql); err == nil && p.Size <= measured {
			best = p
		}
	}
	best.How = fmt.Sprintf("lot size not given; plan by the number measured: letter %s, n = %d", best.Letter, best.Size)
	return best, err
}

// variablesPlan is the plan of a letter, by its place; the next larger sample serves where the letter's own has none.
func variablesPlan(letter int, inspection Inspection, aql float64) (VariablesPlan, error) {
	column, err := columnOf(variablesAQLs, aql, inspection)
	if err != nil {
		return VariablesPlan{}, err
	}
	p := VariablesPlan{Inspection: inspection.or(), Letter: variablesLetters[letter : letter+1], AQL: aql, How: "letter " + variablesLetters[letter:letter+1]}
	own := variablesSizes[p.Inspection][letter]
	for _, row := range strictness {
		if m := row.m[column+step[p.Inspection]]; row.n >= own && m > 0 {
			p.Size, p.M = row.n, m/100
			break
		}
	}
	if p.Size > own {
		p.How += fmt.Sprintf(", arrow to n = %d", p.Size)
	}
	p.K = constant(p.Size, p.M)
	return p, nil
}

// constant is k for M: k = (1-2B)(n-1)/sqrt(n), with B the quantile of Beta(n/2-1, n/2-1) at M
// (Lieberman and Resnikoff 1955, the relation behind MIL-STD-414 B-1 and B-3).
func constant(n int, m float64) float64 {
	a := float64(n)/2 - 1
	return (1 - 2*mathext.InvRegIncBeta(a, a, m)) * float64(n-1) / math.Sqrt(float64(n))
}

// Nonconforming estimates the fraction beyond one limit from the quality index Q, the distance from the mean
// to the limit over the standard deviation of n items: the minimum-variance unbiased estimate under a normal
// distribution. n must be 3 or more.
func Nonconforming(q float64, n int) float64 {
	a := float64(n)/2 - 1
	x := 0.5 - q*math.Sqrt(float64(n))/(2*float64(n-1))
	return mathext.RegIncBeta(a, a, min(max(x, 0), 1))
}

// VariablesResult is the decision and what it rests on.
type VariablesResult struct {
	Result        Result
	Reason        string
	Low, High     float64 // quality indexes at the lower and upper limit; +Inf where there is no limit
	Nonconforming float64 // estimated fraction beyond both limits
}

// Decide judges n items with that mean and standard deviation against limits; -Inf and +Inf mean none. One
// limit is judged by k, two by M.
func (p VariablesPlan) Decide(n int, mean, sd, low, high float64) VariablesResult {
	if n < p.Size || !(sd > 0) {
		return VariablesResult{Result: Undecided, Low: math.Inf(1), High: math.Inf(1), Nonconforming: math.NaN(),
			Reason: fmt.Sprintf("not enough boards: %d measured, the plan asks for %d", n, p.Size)}
	}
	r := VariablesResult{Result: Accept, Low: (mean - low) / sd, High: (high - mean) / sd}
	r.Nonconforming = Nonconforming(r.Low, n) + Nonconforming(r.High, n)
	if math.IsInf(low, -1) || math.IsInf(high, 1) {
		q := min(r.Low, r.High)
		if q < p.K {
			r.Result = Reject
		}
		r.Reason = fmt.Sprintf("quality index %.3f, k = %.3f", q, p.K)
		return r
	}
	if r.Nonconforming > p.M {
		r.Result = Reject
	}
	r.Reason = fmt.Sprintf("estimated %.3g %% nonconforming, at most %.3g %% accepted (k = %.3f a limit)", 100*r.Nonconforming, 100*p.M, p.K)
	return r
}

// Probability is the chance that the k method accepts a normal lot with that fraction beyond one limit:
// P(mean + k s <= limit), the average over s of the normal distribution of the mean.
func (p VariablesPlan) Probability(fraction float64) float64 {
	if fraction <= 0 {
		return 1
	}
	if fraction >= 1 {
		return 0
	}
	n := float64(p.Size)
	distance, chi := distuv.UnitNormal.Quantile(1-fraction), distuv.ChiSquared{K: n - 1}
	reach := 8 / math.Sqrt(2*(n-1)) // eight standard deviations of s/sigma: beyond them its density is gone
	sum := quad.Fixed(func(s float64) float64 {
		return 2 * (n - 1) * s * chi.Prob((n-1)*s*s) * distuv.UnitNormal.CDF(math.Sqrt(n)*(distance-p.K*s))
	}, max(0, 1-reach), 1+reach, 100, nil, 0)
	return min(max(sum, 0), 1)
}
