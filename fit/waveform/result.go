package waveform

import (
	"errors"
	"fmt"

	"gonum.org/v1/gonum/mat"

	"offbeat/acquire"
	"offbeat/fit"
)

// Index of a quantity in Result.Covariance.
const (
	TauCharge = iota
	TauDischarge
	Upper
	Lower
	Asymptote
	DischargeAsymptote
	quantities
)

// Result is what the capacitor's waveform shows. Time constants in seconds by the instrument's clock, the rest in volts.
type Result struct {
	TauCharge, TauDischarge fit.Estimate
	Upper, Lower            fit.Estimate // where the runs meet
	Asymptote               fit.Estimate // where the charge is heading
	DischargeAsymptote      fit.Estimate
	Covariance              *mat.SymDense    // of the six, in the order of the indices
	Cycles                  int              // pairs of segments fitted
	Residual                float64          // V, standard deviation about the fitted runs
	Inverted                bool             // the capacitor charges while the output is low
	Single                  bool             // one pulse a trigger: of the discharge nothing is known, Lower is where the charge starts
	Measurement             *fit.Measurement // of the output
	Notes                   []string
}

// Sentinels that Fit's errors wrap.
var (
	ErrChannel = errors.New("no capacitor channel")
	ErrCurve   = errors.New("no exponential runs")
)

func fault(c *acquire.Capture, what, expect string, cause error) error {
	return &acquire.Error{File: c.Source, What: what, Expect: expect, Err: cause}
}

// Bent is the error of a capacitor's channel that is no exponential run beside an output that dwells at two levels: the output's
// times stand all the same. It wraps an *acquire.Error and ErrCurve.
type Bent struct {
	Output *fit.Measurement
	error
}

func (e *Bent) Unwrap() error { return e.error }

// bent says what of a channel is no exponential run; an output that dwells at no two levels may itself be the capacitor.
func bent(c *acquire.Capture, m *fit.Measurement, what, expect string) error {
	err := fault(c, what, expect, ErrCurve)
	if m.Levels.Ramps {
		return err
	}
	return &Bent{m, err}
}

const bend = "a bend toward an asymptote; see that the channels are not exchanged"

// count notes that the runs are few.
func (r *Result) count() {
	if r.Cycles < minClusters {
		r.Notes = append(r.Notes, fmt.Sprintf("only %d runs of a kind: their scatter from cycle to cycle is poorly known", r.Cycles))
	}
}
