package measure

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"offbeat/acquire"
)

// Curve is the error for a record without pulses that runs from one voltage to another: a ramp, or a capacitor's charge. It
// holds some of the samples, evenly over the record.
type Curve struct {
	Fault      *acquire.Error
	Ramp       bool
	Time, Volt []float64
	abrupt     bool // it is one edge rather
}

func (c *Curve) Error() string { return c.Fault.Error() }
func (c *Curve) Unwrap() error { return c.Fault }

const (
	curveParts  = 24   // that the record is cut into to see how it runs
	curveSwing  = 12.0 // standard deviations of the noise, that a curve runs over at least
	straightest = 0.01 // of the swing, that a ramp lies from a line at most
	curveEdges  = 2    // of what may be no train, at most
	abrupt      = 2    // parts between the ends of what is one edge of a switch, at most
	between     = 0.1  // of the swing, that such a part is from either end at least
)

// follow keeps a course of samples while they may be of a curve.
func (r *run) follow(first int64, t, v []float64) {
	switch {
	case r.c.Kind != acquire.Samples:
	case r.train.Edges() > curveEdges:
		r.course, r.behind = course{}, rows{}
	default:
		r.catchUp()
		r.course.add(first, t, v)
	}
}

// catchUp adds what the course lacks.
func (r *run) catchUp() {
	if b := r.behind; b.v != nil && r.c.Kind == acquire.Samples {
		r.course.add(b.first, b.t, b.v)
	}
	r.behind = rows{}
}

// curve says of a record without pulses what it is instead, where that is plain.
func (r *run) curve(err error) error {
	if r.c.Kind != acquire.Samples || !errors.Is(err, ErrFlat) && !errors.Is(err, ErrFew) || r.train.Edges() > curveEdges {
		return err
	}
	r.catchUp()
	if len(r.course.v) < 2*curveParts {
		return err
	}
	v := r.course.v
	var rough []float64
	for i := 1; i < len(v); i++ {
		rough = append(rough, math.Abs(v[i]-v[i-1]))
	}
	slices.Sort(rough)
	noise := 1.05 * rough[len(rough)/2] // of steps between neighbours: √2 times a median deviation of 0.6745
	part := len(v) / curveParts
	means := make([]float64, curveParts)
	for k := range means {
		for _, x := range v[k*part : (k+1)*part] {
			means[k] += x / float64(part)
		}
	}
	swing := means[curveParts-1] - means[0]
	if !(math.Abs(swing) > curveSwing*noise) {
		return err
	}
	slack := 4*noise/math.Sqrt(float64(part)) + straightest*math.Abs(swing)
	for k := 1; k < curveParts; k++ {
		if (means[k]-means[k-1])*math.Copysign(1, swing) < -slack {
			return err // to and fro
		}
	}
	c := &Curve{Time: make([]float64, len(v)), Volt: v, Ramp: true}
	for i, t := range r.course.t {
		scale := 1.0
		if r.uniform {
			scale = r.c.Step
		}
		c.Time[i] = r.time(t, scale)
	}
	line, slow := swing/float64(curveParts-1), 0
	for k, m := range means {
		if math.Abs(m-means[0]-line*float64(k)) > slack {
			c.Ramp = false
		}
		if part := (m - means[0]) / swing; part > between && part < 1-between {
			slow++
		}
	}
	c.abrupt = slow <= abrupt
	what := fmt.Sprintf("the record is one curve from %.4g to %.4g V, without pulses", means[0], means[curveParts-1])
	if c.Ramp {
		what = fmt.Sprintf("the record is a ramp from %.4g to %.4g V, without pulses", v[0], v[len(v)-1])
	}
	c.Fault = r.fault(what, "a pulse train with two state levels", ErrFlat).(*acquire.Error)
	c.Fault.Do = "record the output, or for longer"
	return c
}
