package lot

import (
	"fmt"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat"

	"offbeat/acquire/quantity"
	"offbeat/compare"
	"offbeat/compare/lot/acceptance"
	"offbeat/compare/lot/capability"
)

const (
	attributesStandard = "ISO 2859-1:1999 single sampling"
	variablesStandard  = "MIL-STD-414 standard-deviation method, letters of ANSI/ASQ Z1.9 (not ISO 3951)"
)

// curvePoints of an operating characteristic's drawing.
const curvePoints = 101

// decide judges the lot, or each lot where there are several, in the order of time and under the inspection that the
// switching rules then ask for.
func (c *Collector) decide(r *Report, opt Options) error {
	names := c.lots()
	inTime(names, c.began)
	sequence := acceptance.Begin(opt.Inspection)
	for _, name := range names {
		rows, own := c.of(name), opt
		own.Inspection = sequence.Inspection
		l := Sublot{Lot: name, Boards: count(rows)}
		var plan acceptance.Plan
		var err error
		if l.Acceptance, plan, err = c.accept(rows, own); err != nil {
			return err
		}
		if l.Variables, err = c.variables(rows, own); err != nil && own.ByValue {
			return err
		}
		if own.ByValue {
			l.Acceptance.byValue(l.Variables, l.Boards)
		}
		if len(names) > 1 {
			l.Parts = c.moved(judged(rows), opt).parts
		}
		if a := l.Acceptance; a.Result != acceptance.Undecided && own.ByValue {
			sequence.Variables(a.Result == acceptance.Accept)
		} else if a.Result != acceptance.Undecided {
			sequence.Attributes(plan, a.Nonconforming+a.Open)
		}
		r.Lots = append(r.Lots, l)
	}
	switch len(r.Lots) {
	case 0:
		var err error
		r.Acceptance, _, err = c.accept(nil, opt)
		return err
	case 1:
		r.Acceptance, r.Variables, r.Lot, r.Lots = r.Lots[0].Acceptance, r.Lots[0].Variables, r.Lots[0].Lot, nil
	default:
		r.Acceptance, r.Switching = together(r.Lots), sequence.Advice(opt.ByValue)
	}
	return nil
}

// Each is every lot of the report with its decision; one where the manifest names none or one.
func (r *Report) Each() []Sublot {
	if len(r.Lots) > 0 {
		return r.Lots
	}
	return []Sublot{{Lot: r.Lot, Acceptance: r.Acceptance, Variables: r.Variables, Parts: r.Parts, Boards: r.Boards}}
}

// began is when a lot's first board was captured; zero where none has a time.
func (c *Collector) began(lot string) (first time.Time) {
	for i := range c.rows {
		if r := &c.rows[i]; r.Lot == lot && !r.Time.IsZero() && (first.IsZero() || r.Time.Before(first)) {
			first = r.Time
		}
	}
	return first
}

// together is the decision where there are several lots: each stands by itself, and the plan shown is the latest lot's.
func together(lots []Sublot) Acceptance {
	all := lots[len(lots)-1].Acceptance
	all.SampleSize, all.Nonconforming, all.Open = 0, 0, 0
	by := map[acceptance.Result][]string{}
	for _, l := range lots {
		a := l.Acceptance
		all.SampleSize, all.Nonconforming, all.Open = all.SampleSize+a.SampleSize, all.Nonconforming+a.Nonconforming, all.Open+a.Open
		by[a.Result] = append(by[a.Result], l.Lot)
	}
	all.Result, all.Reason = acceptance.Accept, fmt.Sprintf("all %d lots are accepted", len(lots))
	for _, k := range []struct {
		result acceptance.Result
		word   string
	}{{acceptance.Undecided, "undecided"}, {acceptance.Reject, "rejected"}} {
		if names := by[k.result]; len(names) > 0 {
			all.Result, all.Reason = k.result, fmt.Sprintf("%d of %d lots %s: %s", len(names), len(lots), k.word, strings.Join(names, ", "))
		}
	}
	return all
}

// accept decides by attributes on one lot's rows.
func (c *Collector) accept(rows []Row, opt Options) (Acceptance, acceptance.Plan, error) {
	n := count(rows)
	tally := acceptance.Tally{Inspected: n.Pass + n.Fail + n.Undecided, Nonconforming: n.Fail, Unknown: n.Undecided + n.Failed}
	var plan acceptance.Plan
	var err error
	if opt.LotSize > 0 {
		plan, err = acceptance.ByLot(opt.LotSize, opt.Level, opt.Inspection, opt.AQL)
	} else {
		plan, err = acceptance.BySample(tally.Inspected, opt.Inspection, opt.AQL)
	}
	if err != nil {
		return Acceptance{}, plan, err
	}
	a := Acceptance{Method: "attributes", SampleSize: tally.Inspected, Nonconforming: tally.Nonconforming, Open: tally.Unknown,
		Accept: plan.Accept, Reject: plan.Reject, Curve: acceptance.Characteristic(plan, curvePoints)}
	risks := acceptance.RisksOf(plan)
	a.Plan = Plan{Standard: attributesStandard, How: plan.How, Inspection: plan.Inspection, Letter: plan.Letter, Size: plan.Size, AQL: plan.AQL, LotSize: plan.LotSize,
		Accept: &plan.Accept, Reject: &plan.Reject, Producer: risks.Producer, Consumer: risks.Consumer}
	a.Result, a.Reason = plan.Decide(tally)
	if len(c.design.Targets) == 0 {
		a.Result, a.Reason = acceptance.Undecided, "the design has no target to judge boards by"
	}
	return a, plan, nil
}

// byValue lets the variables' plans decide: every quantity must be accepted, and no board may fail for sure or be unread,
// since the estimate from the others' values does not know of it.
func (a *Acceptance) byValue(variables []Variables, n Count) {
	a.Method, a.Result, a.Reason = "variables", acceptance.Accept, "every quantity of the target is accepted"
	if len(variables) == 0 {
		a.Result, a.Reason = acceptance.Undecided, "no quantity of the target could be judged by variables"
		return
	}
	deciding := variables[0]
	for _, v := range variables {
		if v.Result != acceptance.Accept && a.Result != acceptance.Reject {
			a.Result, a.Reason, deciding = v.Result, v.Quantity+": "+v.Reason, v
		}
	}
	switch {
	case a.Result == acceptance.Reject:
	case n.Fail > 0:
		a.Result, a.Reason = acceptance.Reject, fmt.Sprintf("%s nonconforming for sure: a plan by variables accepts none", quantity.Plural(n.Fail, "board"))
	case n.Failed > 0:
		a.Result, a.Reason = acceptance.Undecided, fmt.Sprintf("%s could not be read: a plan by variables needs every board's value", quantity.Plural(n.Failed, "board"))
	}
	a.Plan, a.Curve = deciding.Plan, deciding.Curve
}

// variables judges each quantity of the target by the values of one lot's rows.
func (c *Collector) variables(rows []Row, opt Options) ([]Variables, error) {
	var out []Variables
	good := judged(rows)
	for _, t := range c.design.Targets {
		i := compare.PlaceOf(t.Quantity)
		if len(good) == 0 {
			continue
		}
		x := make([]float64, len(good))
		for k, row := range good {
			x[k] = row.Values[i]
		}
		v, err := variablesOf(t.Quantity, x, opt)
		if err != nil {
			return nil, err
		}
		low, high := open(t)
		v.judge(x, low, high)
		out = append(out, v.Variables)
	}
	return out, nil
}

// planned is a quantity with the plan it is judged by.
type planned struct {
	Variables
	plan acceptance.VariablesPlan
}

func variablesOf(quantity string, x []float64, opt Options) (*planned, error) {
	var p acceptance.VariablesPlan
	var err error
	if opt.LotSize > 0 {
		p, err = acceptance.VariablesByLot(opt.LotSize, opt.Level, opt.Inspection, opt.AQL)
	} else {
		p, err = acceptance.VariablesBySample(len(x), opt.Inspection, opt.AQL)
	}
	if err != nil {
		return nil, err
	}
	risks := acceptance.RisksOf(p)
	plan := Plan{Standard: variablesStandard, How: p.How, Inspection: p.Inspection, Letter: p.Letter, Size: p.Size, AQL: p.AQL, LotSize: p.LotSize, K: &p.K, M: &p.M,
		Producer: risks.Producer, Consumer: risks.Consumer}
	return &planned{Variables{Quantity: quantity, Standard: variablesStandard, Letter: p.Letter, Size: p.Size, K: p.K, M: p.M, Plan: plan, Curve: acceptance.Characteristic(p, curvePoints)}, p}, nil
}

// judge sets the values against the limits. What is not normally distributed is not accepted: the estimate of the
// fraction outside rests on it.
func (v *planned) judge(x []float64, low, high float64) {
	mean, sd := stat.MeanStdDev(x, nil)
	d := v.plan.Decide(len(x), mean, sd, low, high)
	v.Result, v.Reason = d.Result, d.Reason
	v.Low, v.High, v.Nonconforming = finite(d.Low), finite(d.High), finite(d.Nonconforming)
	if n := capability.AndersonDarling(x); d.Result == acceptance.Accept && n.P < doubt {
		v.Result = acceptance.Undecided
		v.Reason = fmt.Sprintf("the values are not normally distributed (%s), which the plan rests on: decide by attributes; by itself %s", Normality{P: &n.P}.Words(), d.Reason)
	}
}
