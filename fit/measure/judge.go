package measure

import (
	"fmt"
	"math"

	"offbeat/acquire"
	"offbeat/acquire/quantity"
	"offbeat/fit/change"
	"offbeat/fit/steady"
	"offbeat/fit/train"
)

// unsteady refuses edges that are not those of one steady train, with the reason; scale turns their unit into seconds.
func (r *run) unsteady(scale float64) error {
	glitches := r.train.Faults.Glitches
	if pulses := r.train.Edges(); glitches > pulses && glitches > 2 && !r.train.Chatters() {
		return r.refuse(fmt.Sprintf("%d pulses far too short for the train were met, and only %d sound ones", glitches, pulses), ErrUnsteady)
	}
	cell := r.c.Step / scale
	if r.c.Kind == acquire.Transitions {
		cell = r.quantum()
	}
	x := steady.Context{Cell: cell, Second: 1 / scale, Excluded: r.find.Runts + glitches, FewCodes: r.levels.FewCodes}
	j := r.train.Judge(x, r.train.Paces())
	if !r.opt.SinglePulse && (j.Kind == steady.Modulated || j.Kind == steady.Irregular) { // or it jumps, and may be back
		if own := r.parts(cell); r.found.Jumps == 0 && len(own) > 1 && len(own) <= jumps+1 {
			if by := r.train.Judge(x, own); by.Kind == steady.Steady {
				j = by
			}
		}
	}
	name := func(x float64) string { return quantity.Uncertain(x*scale, math.Abs(x*scale)/200, quantity.Second) }
	r.judged = j
	switch {
	case j.Kind == steady.Steady && r.levels.OneStep && r.find.Runts+glitches > r.train.Edges()/20:
		return r.refuse(fmt.Sprintf("the state levels, %.5g and %.5g V, are one step of the converter apart, and the edges between them are not clean", r.levels.Low, r.levels.High), ErrFlat)
	case j.Kind == steady.Steady:
		return nil
	case j.Kind == steady.Noise:
		return r.refuse(j.Text(name), ErrFlat)
	case j.Kind == steady.Bursts && !j.Unlike:
		note := j.Text(name) + "; the times are those within the bursts"
		if r.train.Trimmed() {
			note += ", without each one's first and last pulse, which what gates them may have cut"
		}
		r.notes = append(r.notes, note)
		return nil
	}
	err := r.refuse(j.Text(name), ErrUnsteady)
	if e := err.(*acquire.Error); j.Kind == steady.Modulated && j.Modulation.Alternates() {
		e.Do = "take off what the output drives, such as a divider by two that feeds back into the supply, the control pin or the trigger, and capture it again"
	}
	return err
}

// jumps are how many in a record are no modulation of it.
const jumps = 2

// remedies are what to do about a train that is refused, by the sentinel.
var remedies = map[error]string{
	ErrFlat:     "check the probe and the channel: this looks like a quiet line with noise",
	ErrUnsteady: "cut the record to a stretch where the train is steady, or look at what modulates it",
}

func (r *run) refuse(what string, cause error) error {
	e := r.fault(what, "the pulses of one steady train", cause).(*acquire.Error)
	e.Do = remedies[cause]
	if cause == ErrUnsteady && r.uniform && r.train.Shortest() < 2 {
		e.Do = "capture it again at ten times the rate: pulses are below two samples long, so that none shows as it is"
	}
	return e
}

// parts are what lies between the changes of a train; of one that runs at several paces, those and what lies between changes in each.
func (r *run) parts(cell float64) (all []train.Pace) {
	if r.found != nil {
		return r.between
	}
	t, paces := r.train.Record(), r.train.Paces()
	if r.found = new(change.Found); r.c.Kind == acquire.Transitions && r.train.Shortest() < coarse*cell {
		paces = paces[:1]
		paces[0].From, paces[0].To = math.Inf(-1), math.Inf(1)
	}
	for i, p := range paces {
		cycles := t.Part(p.From, p.To).Cycles
		if n := len(cycles); i+1 < len(paces) && n > 1 {
			cycles = cycles[:n-1] // the last may hold the change
		}
		found := change.Find(cycles, cell)
		if len(paces) > 1 && (found.Stretches == nil || found.Jumps > 0) {
			found = change.Found{Stretches: []change.Stretch{{From: p.From, To: p.To}}}
		}
		for _, s := range found.Stretches {
			all = append(all, p.Part(s.From, s.To))
		}
		if i > 0 {
			found.Sizes = append([]change.Size{{}}, found.Sizes...)
		}
		found.Sizes, found.Alike = append(r.found.Sizes, found.Sizes...), r.found.Alike || found.Alike
		r.found = &found
	}
	r.between = all
	return all
}

// coarse is how many steps of a list's times a pulse has at least where another pace of it is no rounding.
const coarse = 4
