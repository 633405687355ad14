package comparetest

import (
	"fmt"
	"math"

	"offbeat/fit"
)

// The causes, by the names of the JSON schema; TwoShifted is "shifted" with two parts.
const (
	Nothing     = "nothing"
	Shifted     = "shifted"
	OtherValue  = "other value"
	Exchanged   = "exchanged"
	Leakage     = "leakage"
	Aged        = "aged"
	Contact     = "contact"
	Stray       = "stray"
	WrongSignal = "wrong signal"
	Thresholds  = "thresholds"
	Discharge   = "discharge"
	Clock       = "clock"
	Unexplained = "unexplained"
)

// Problem is everything that fixes the probabilities.
//
// Of Design it uses Circuit, Parts (those of Parts, in that order), Supply (0: 5 V exactly; Half: rectangular; Standard: normal) and
// Readings (of parts, "supply" or "control"). Of Measured it uses High, Low, their uncertainties, Covariance and Clock.
type Problem struct {
	Design   fit.Design
	Measured fit.Measurement
	Terms    []Term  // second-order terms with their priors; none: the ideal family
	Causes   []Cause // each with its prior odds; those with odds 0 or that the circuit can't have are left out
}

// Cause is one hypothesis with its prior odds against "nothing", which is listed like any other.
type Cause struct {
	Name  string
	Parts []string // shifted: one or two; other value: one; exchanged: the two
	Odds  float64
}

// Term is the prior of one second-order quantity. Its names, with the field of fittest.Network that each sets:
//
//	upper             Upper, ratio to the supply
//	lower             Lower, ratio to the supply
//	lower_of_upper    Lower, as a ratio to Upper
//	saturation        Saturation, V
//	on_resistance     OnResistance, ohm
//	delay_fall        DelayFall, s
//	delay_rise        DelayRise, s
//	delay             both delays, s
//	bias              Bias, A
//	diode             Diode, V
//	output_high_drop  Supply - OutputHigh, V
//	output_low        OutputLow, V
//	breakdown         Breakdown, V
//	base_emitter      BaseEmitter, V
type Term struct {
	Name string
	// Normal with Mean and SD where SD > 0, cut off outside Low..High where High > Low; else uniform over Low..High.
	Mean, SD  float64
	Low, High float64
}

// Answer holds the mixture of causes and the parts over the whole mixture.
type Answer struct {
	Causes []CauseAnswer // in the order of Problem.Causes
	Parts  []PartAnswer  // in the order of Design.Parts
	Status Status
}

// CauseAnswer is one cause's probability.
type CauseAnswer struct {
	Cause
	Probability float64
	Error       float64 // standard error of Probability
	LogEvidence float64 // ln of the density of the measured ln times and readings; -Inf where the cause can't explain them
}

// PartAnswer is one part over the whole mixture.
type PartAnswer struct {
	Name           string
	Mean, Median   float64
	Interval95     [2]float64 // 2.5 % and 97.5 % quantile
	OutOfTolerance float64
	Error          float64 // standard error of OutOfTolerance
}

// Status says how the sampling ended.
type Status struct {
	Converged  bool    // every probability's standard error is at most Options.Error
	WorstError float64 // the largest standard error of a cause's probability or of an OutOfTolerance
	Samples    int     // in all
}

// check refuses what has no meaning here.
func (p *Problem) check() error {
	names := Parts[p.Design.Circuit]
	if len(names) == 0 || len(p.Design.Parts) != len(names) {
		return fmt.Errorf("comparetest: %s has the parts %v, got %v", p.Design.Circuit, names, p.Design.Parts)
	}
	for i, part := range p.Design.Parts {
		if part.Name != names[i] || !(part.Nominal > 0) || !(part.High() > part.Low()) || !(part.Low() > 0) {
			return fmt.Errorf("comparetest: part %d of %s must be %s with a positive value and tolerance, got %+v", i+1, p.Design.Circuit, names[i], part)
		}
	}
	for _, r := range p.Design.Readings {
		if !(r.Half > 0) && !(r.Standard > 0) {
			return fmt.Errorf("comparetest: the reading of %s has no uncertainty", r.Name)
		}
	}
	return nil
}

// values are a problem's numbers in the form the likelihood wants.
type values struct {
	times     int        // 2, or 1 for the monostable
	ln        [2]float64 // ln of the measured high and low time
	cov       [3]float64 // variances of ln high and ln low, and their covariance
	precision [3]float64 // its inverse, same order
	norm      float64    // factor of the normal density
}

// measured reads the times. A normal error of relative size u on a time is one of size u on its logarithm.
func (p *Problem) measured() (values, error) {
	m := &p.Measured
	v := values{times: 2}
	if p.Design.Circuit == "monostable" || m.Low.Count == 0 && m.Low.Value == 0 {
		v.times = 1
	}
	if !(m.High.Value > 0 && m.High.Uncertainty > 0) || v.times == 2 && !(m.Low.Value > 0 && m.Low.Uncertainty > 0) {
		return v, fmt.Errorf("comparetest: times and their uncertainties must be positive: %+v %+v", m.High, m.Low)
	}
	v.ln[0] = math.Log(m.High.Value)
	v.cov[0] = sq(m.High.Uncertainty / m.High.Value)
	if v.times == 2 {
		v.ln[1] = math.Log(m.Low.Value)
		v.cov[1] = sq(m.Low.Uncertainty / m.Low.Value)
		v.cov[2] = m.Covariance / (m.High.Value * m.Low.Value)
	}
	return v.invert()
}

// invert fills precision and norm from cov.
func (v values) invert() (values, error) {
	if v.times == 1 {
		v.precision = [3]float64{1 / v.cov[0], 0, 0}
		v.norm = 1 / math.Sqrt(2*math.Pi*v.cov[0])
		return v, nil
	}
	det := v.cov[0]*v.cov[1] - v.cov[2]*v.cov[2]
	if !(det > 0) {
		return v, fmt.Errorf("comparetest: the covariance of the times is not positive definite: %v", v.cov)
	}
	v.precision = [3]float64{v.cov[1] / det, v.cov[0] / det, -v.cov[2] / det}
	v.norm = 1 / (2 * math.Pi * math.Sqrt(det))
	return v, nil
}

// density of the measured ln times where the model says ln high and ln low.
func (v *values) density(high, low float64) float64 {
	d, e := v.ln[0]-high, v.ln[1]-low
	if v.times == 1 {
		e = 0
	}
	return v.norm * math.Exp(-0.5*(v.precision[0]*d*d+v.precision[1]*e*e+2*v.precision[2]*d*e))
}

func sq(x float64) float64 { return x * x }
