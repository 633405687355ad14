package lot

import (
	"math"

	"offbeat/compare/lot/acceptance"
)

// Acceptance is the decision on a lot.
type Acceptance struct {
	Result        acceptance.Result `json:"result"`
	Reason        string            `json:"reason"`
	Method        string            `json:"method"`      // attributes or variables
	SampleSize    int               `json:"sample_size"` // boards with a verdict
	Nonconforming int               `json:"nonconforming"`
	Open          int               `json:"without_verdict"` // undecided boards, and those that could not be read
	Accept        int               `json:"accept_number"`
	Reject        int               `json:"reject_number"`
	Plan          Plan              `json:"plan"`

	Curve acceptance.Curve `json:"-"` // operating characteristic of the plan
}

// Plan says where the numbers come from and what risk they carry.
type Plan struct {
	Standard string  `json:"standard"`
	How      string  `json:"how"`
	Letter   string  `json:"letter"`
	Size     int     `json:"sample_size"`
	AQL      float64 `json:"aql_percent"`
	LotSize  int     `json:"lot_size,omitempty"`
	Producer float64 `json:"accepted_95"` // fraction nonconforming that is accepted with 95 %
	Consumer float64 `json:"accepted_10"` // and with 10 %
}

const attributesStandard = "ISO 2859-1:1999 single sampling, normal inspection"

// curvePoints of an operating characteristic's drawing.
const curvePoints = 101

// accept decides on some of the rows.
func (c *Collector) accept(rows []Row, variables []Variables, opt Options) (Acceptance, error) {
	n := count(rows)
	tally := acceptance.Tally{Inspected: n.Pass + n.Fail + n.Undecided, Nonconforming: n.Fail, Unknown: n.Undecided + n.Failed}
	var plan acceptance.Plan
	var err error
	if opt.LotSize > 0 {
		plan, err = acceptance.ByLot(opt.LotSize, opt.Level, opt.AQL)
	} else {
		plan, err = acceptance.BySample(tally.Inspected, opt.AQL)
	}
	if err != nil {
		return Acceptance{}, err
	}
	a := Acceptance{Method: "attributes", SampleSize: tally.Inspected, Nonconforming: tally.Nonconforming, Open: tally.Unknown,
		Accept: plan.Accept, Reject: plan.Reject, Curve: acceptance.Characteristic(plan, curvePoints)}
	risks := acceptance.RisksOf(plan)
	a.Plan = Plan{attributesStandard, plan.How, plan.Letter, plan.Size, plan.AQL, plan.LotSize, risks.Producer, risks.Consumer}
	a.Result, a.Reason = plan.Decide(tally)
	if len(c.design.Targets) == 0 {
		a.Result, a.Reason = acceptance.Undecided, "the design has no target to judge boards by"
	}
	if opt.ByValue {
		a.byValue(variables)
	}
	return a, nil
}

// byValue lets the variables' plans decide: every quantity must be accepted.
func (a *Acceptance) byValue(variables []Variables) {
	a.Method, a.Result, a.Reason = "variables", acceptance.Accept, "every quantity of the target is accepted"
	if len(variables) == 0 {
		a.Result, a.Reason = acceptance.Undecided, "no quantity of the target could be judged by variables"
	}
	for _, v := range variables {
		if v.Result == acceptance.Accept || a.Result == acceptance.Reject {
			continue
		}
		a.Result, a.Reason = v.Result, v.Quantity+": "+v.Reason
	}
}

// Variables is the decision on one quantity by variables.
type Variables struct {
	Quantity      string            `json:"quantity"`
	Result        acceptance.Result `json:"result"`
	Reason        string            `json:"reason"`
	Standard      string            `json:"standard"`
	Letter        string            `json:"letter"`
	Size          int               `json:"sample_size"`
	K             float64           `json:"k"`
	M             float64           `json:"m"`
	Low           *float64          `json:"quality_index_low,omitempty"`
	High          *float64          `json:"quality_index_high,omitempty"`
	Nonconforming *float64          `json:"estimated_nonconforming,omitempty"`

	Curve acceptance.Curve `json:"-"`
}

const variablesStandard = "MIL-STD-414 standard-deviation method, letters of ANSI/ASQ Z1.9 (not ISO 3951)"

// byVariables judges a quantity's values.
func byVariables(quantity string, n int, mean, sd, low, high float64, aql float64) (Variables, error) {
	p, err := acceptance.ByVariables(n, aql)
	if err != nil {
		return Variables{}, err
	}
	d := p.Decide(n, mean, sd, low, high)
	v := Variables{quantity, d.Result, d.Reason, variablesStandard, p.Letter, p.Size, p.K, p.M, finite(d.Low), finite(d.High), finite(d.Nonconforming), acceptance.Curve{}}
	v.Curve = acceptance.Characteristic(p, curvePoints)
	return v, nil
}

// finite is nil for what JSON has no word for.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// sublots decides on each lot where the manifest names several, and looks at the sequence.
func (c *Collector) sublots(r *Report, opt Options) error {
	names := c.lots()
	if len(names) < 2 {
		return nil
	}
	own := opt
	own.LotSize = 0 // it was said of the whole
	own.ByValue = false
	var accepted []bool
	for _, name := range names {
		rows := c.of(name)
		a, err := c.accept(rows, nil, own)
		if err != nil {
			return err
		}
		moved, err := c.moved(judged(rows), opt)
		if err != nil {
			return err
		}
		r.Lots = append(r.Lots, Sublot{name, a, moved.parts, count(rows)})
		if a.Result != acceptance.Undecided {
			accepted = append(accepted, a.Result == acceptance.Accept)
		}
	}
	r.Switching = acceptance.Switching(accepted)
	return nil
}
