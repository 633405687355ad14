package cli

import (
	"offbeat/acquire"
	"offbeat/compare/bistable"
	"offbeat/fit"
	"offbeat/fit/latch"
)

// prepareLatch takes from a bistable's design what checking it needs to know.
func (o *readOptions) prepareLatch(d *fit.Design) error {
	if o.levelSet {
		return usagef("--level has no meaning for the bistable circuit; expected a logic capture, whose channels are 0 or 1")
	}
	o.latch = &latch.Options{ActiveHigh: d.Inputs == fit.ActiveHigh}
	return o.chooseLatch()
}

// check holds one record against the truth table.
func (r *reading) check(c *acquire.Capture, o readOptions) error {
	result, err := latch.Run(c, *o.latch)
	if err != nil {
		return err
	}
	r.checks = append(r.checks, bistable.Check{Source: c.Source, Result: result})
	r.captures = append(r.captures, described(c, o.explain))
	return nil
}
