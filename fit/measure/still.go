package measure

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat"

	"offbeat/acquire"
	"offbeat/fit"
)

// Still is the error for a record whose output stands still: no edge is in it, or one with nothing behind it.
type Still struct {
	Fault   error
	Seconds float64 // the longest time without an edge, s
	Level   float64 // V, the mean level over that time; NaN of a capture of states
	State   int     // 1: it stood high, -1: low; 0: one level is all that the record shows
	Moved   bool    // the output changed its state once
}

func (s *Still) Error() string { return s.Fault.Error() }
func (s *Still) Unwrap() error { return s.Fault }

// still says of a record without pulses that the output stands still in it, where that is so.
func (r *run) still(err error) error {
	if !errors.Is(err, ErrFlat) && !errors.Is(err, ErrFew) || r.opt.LevelSet || r.rows < 2 || r.find.Runts > 0 || r.train.Faults != (fit.Faults{}) {
		return err
	}
	scale := 1.0
	if r.uniform {
		scale = r.c.Step
	}
	s := &Still{Fault: err, Seconds: (r.end - r.start) * scale}
	var c *Curve
	switch edges := r.train.Edges(); {
	case errors.As(err, &c) && !c.abrupt:
		return err
	case !r.have && len(r.course.v) > 0:
		s.Level = stat.Mean(r.course.v, nil)
	case edges == 0 && r.c.Kind != acquire.Samples:
		s.State = sign(r.latest > 0.5)
	case edges == 1 && !r.levels.Ramps:
		e := r.train.Last()
		before, behind := e.X-r.start, r.end-e.X
		s.Moved, s.Seconds, s.State, s.Level = true, max(before, behind)*scale, sign(e.Rise == (behind > before)), r.levels.Low
		if s.State > 0 {
			s.Level = r.levels.High
		}
	default:
		return err
	}
	if r.c.Kind != acquire.Samples {
		s.Level = math.NaN()
	}
	return s
}

func sign(high bool) int {
	if high {
		return 1
	}
	return -1
}
