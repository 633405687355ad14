package designfile

import (
	"slices"
	"strings"

	"offbeat/acquire/quantity"
)

// clockClass is a kind of time base and its relative limit, rectangular.
type clockClass struct {
	name   string
	limit  float64
	source string
}

var clockClasses = []clockClass{
	{"crystal", 100e-6, "30 ppm calibration (HC49 data sheet) + 50 ppm over temperature (HC49 data sheet) + four years of 5 ppm ageing (from memory)"},
	{"ceramic", 0.011, "0.5 % initial + 0.3 % over temperature + 0.3 % in ten years (ceramic resonator specification)"},
	{"rc", 0.10, "10 % as delivered (8-bit microcontroller data sheets, from memory)"},
}

// clock reads a class or a limit such as "50 ppm".
func (e *entry) clock() (float64, error) {
	for _, c := range clockClasses {
		if e.value == c.name {
			return c.limit, nil
		}
	}
	if strings.IndexFunc(e.value, func(r rune) bool { return r >= '0' && r <= '9' }) >= 0 {
		q, err := e.quantity(quantity.Number)
		switch {
		case err != nil:
			return 0, err
		case q.Tolerance.Given():
			return 0, e.at.fail(e.name()+" "+quoted(e.value)+" has a tolerance", "the limit alone, such as 50 ppm", "")
		case q.Value >= 0.5:
			return 0, e.at.fail(e.name()+" "+quoted(e.value)+" is no limit of a clock", "less than 50 %", "")
		}
		return q.Value, nil
	}
	names := clockNames()
	_, err := e.word(append(names, "50 ppm"))
	return 0, err
}

// limit reads the limit of a channel's scale or zero, a share.
func (e *entry) limit(example string) (float64, error) {
	q, err := e.quantity(quantity.Number)
	switch {
	case err != nil:
		return 0, err
	case q.Tolerance.Given():
		return 0, e.at.fail(e.name()+" "+quoted(e.value)+" has a tolerance", "the limit alone, "+example, "")
	case !(q.Value > 0 && q.Value < 0.5):
		return 0, e.at.fail(e.name()+" "+quoted(e.value)+" is no limit of a channel", "above zero and less than 50 %, "+example, "")
	}
	return q.Value, nil
}

// ClockLimit reads a clock as the --clock flag takes it: a class or a limit; empty means crystal.
func ClockLimit(typed string) (float64, error) {
	if typed == "" {
		return clockClasses[0].limit, nil
	}
	at := place{file: "--clock", text: typed, typed: true}
	e := entry{path: []string{"instrument", "clock"}, value: typed, key: at, at: at, plain: true}
	return e.clock()
}

// ClockNote says what is assumed of a clock that is not given.
func ClockNote() string {
	c := clockClasses[0]
	return "instrument clock: not given, taken as " + c.name + ", ± " + quantity.Exact(c.limit*1e6) + " ppm"
}

func clockNames() []string {
	var names []string
	for _, c := range clockClasses {
		names = append(names, c.name)
	}
	return slices.Clip(names)
}
