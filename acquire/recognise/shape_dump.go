package recognise

import (
	"bytes"
	"math"
	"slices"
	"strconv"
	"strings"

	"offbeat/acquire"
	"offbeat/acquire/internal/grid"
	"offbeat/acquire/internal/scan"
	"offbeat/acquire/internal/timeunit"
)

// dumpShape: a value change dump (IEEE 1364-2005, clause 18): variables by a code, a time, and what changes at it.
var dumpShape = shape{name: dumpName, fits: fitDump}

const dumpName = "value change dump"

// dumpVar is one net of a dump; the same code may be declared under several names.
type dumpVar struct {
	code, name string
	width      int
}

// dumpHead is what a dump declares.
type dumpHead struct {
	vars  []dumpVar
	scope []string
	count uint64 // of the unit, in a tick
	power int    // of ten of the unit
	line  int    // that states it, from 1
	zero  float64
	seen  bool // some section is a dump's
}

func fitDump(h *head, opt acquire.Options) (*proposal, error) {
	if !h.dumpish() && opt.Shape != dumpName {
		return nil, nil
	}
	d := h.readDump()
	if len(d.vars) == 0 {
		if !d.seen {
			return nil, nil
		}
		return nil, &acquire.Error{File: h.name, What: "the dump declares no net of one bit in its first lines", Expect: "$var wire 1 CODE NAME $end", Do: "dump the output's own net", Err: acquire.ErrShape}
	}
	if opt.TimeUnit != "" {
		unit, _ := timeunit.Named(opt.TimeUnit)
		d.count, d.power = uint64(unit.Times), unit.Power
	}
	if d.count == 0 {
		return nil, &acquire.Error{File: h.name, What: "the dump states no time scale", Expect: "$timescale 1 ns $end", Do: "give --time-unit", Err: acquire.ErrTime}
	}
	chosen, codes, err := d.choose(h.name, opt)
	if err != nil {
		return nil, err
	}
	unit := scan.Pow10(d.power)
	q := &proposal{Plan: Plan{Kind: acquire.Transitions, Layout: untabled, Channels: chosen, Tick: unit, Res: grid.Resolution{Fixed: float64(d.count) * unit, Finest: unit}}}
	q.Lines = Dump{Codes: codes, Count: d.count, Power: d.power, Zero: d.zero}
	q.say("line %d states a time scale of %d × 10^%d s", d.line, d.count, d.power)
	return q, nil
}

// dumpish: a keyword that begins a dump stands among the first lines.
func (h *head) dumpish() bool {
	for i := range h.lines {
		w := scan.NewWords(h.lines[i].text)
		first := w.Next()
		switch {
		case len(first) == 0:
		case string(first) == "$var" || string(first) == "$timescale" || string(first) == "$enddefinitions" || string(first) == "$scope":
			return true
		case first[0] != '$' && i > 200:
			return false
		}
	}
	return false
}

// readDump reads the declarations.
func (h *head) readDump() *dumpHead {
	d := &dumpHead{}
	var s scan.Section
	for i := range h.lines {
		w := scan.NewWords(h.lines[i].text)
		for word := w.Next(); word != nil; word = w.Next() {
			if words, done, _ := s.Take(word); done {
				d.section(s.Name, words, i+1)
				s.Leave()
			}
		}
	}
	return d
}

func (d *dumpHead) section(name string, words [][]byte, line int) {
	d.seen = d.seen || scan.DumpSections[name]
	switch name {
	case "$timescale":
		text := string(bytes.Join(words, nil))
		i := strings.IndexFunc(text, func(r rune) bool { return r < '0' || r > '9' })
		if i <= 0 {
			return
		}
		n, err := strconv.ParseUint(text[:i], 10, 32)
		power, ok := dumpUnits[text[i:]]
		if err == nil && ok && n > 0 {
			d.count, d.power, d.line = n, power, line
		}
	case "$timezero":
		if len(words) > 0 {
			d.zero, _ = scan.Float(words[0], '.', 0)
		}
	case "$scope":
		scope := ""
		if len(words) > 1 {
			scope = string(words[1])
		}
		d.scope = append(d.scope, scope)
	case "$upscope":
		if len(d.scope) > 0 {
			d.scope = d.scope[:len(d.scope)-1]
		}
	case "$var":
		d.variable(words)
	}
}

var dumpUnits = map[string]int{"s": 0, "ms": -3, "us": -6, "ns": -9, "ps": -12, "fs": -15}

// noNet are the types of variables that have no level.
var noNet = words("event", "integer", "parameter", "real", "realtime", "time", "string")

// variable takes "type width code reference [range]".
func (d *dumpHead) variable(w [][]byte) {
	if len(w) < 4 || noNet[string(w[0])] {
		return
	}
	width, err := strconv.Atoi(string(w[1]))
	if err != nil || width < 1 {
		return
	}
	v := dumpVar{code: string(w[2]), name: strings.TrimPrefix(string(bytes.Join(w[3:], nil)), `\`), width: width}
	if slices.ContainsFunc(d.vars, func(o dumpVar) bool { return o.code == v.code }) {
		return // one net, seen from another scope
	}
	if scope := strings.Trim(strings.Join(d.scope, "."), "."); scope != "" && slices.ContainsFunc(d.vars, func(o dumpVar) bool { return o.name == v.name }) {
		v.name = scope + "." + v.name
	}
	d.vars = append(d.vars, v)
}

// choose lists the nets of one bit and picks those asked for; a bit of a wider net is asked for as NAME[bit].
func (d *dumpHead) choose(file string, opt acquire.Options) (chosen []acquire.Channel, codes []DumpBit, err error) {
	c := choice{file: file}
	var bits []DumpBit
	for _, v := range d.vars {
		if v.width == 1 {
			c.all = append(c.all, acquire.Channel{Name: v.name, Number: len(c.all) + 1})
			bits = append(bits, DumpBit{Code: v.code})
		}
	}
	want, err := c.wanted(opt, "the dump holds %d nets of one bit")
	if err != nil {
		return nil, nil, err
	}
	for _, w := range want {
		if i := findChannel(c.all, w); i >= 0 {
			chosen = append(chosen, c.all[i])
			codes = append(codes, bits[i])
			continue
		}
		bit, ok := d.bit(w)
		if !ok {
			return nil, nil, c.noChannel("there is no net %q in the dump's first lines", w)
		}
		chosen = append(chosen, acquire.Channel{Name: w, Number: len(c.all) + len(codes) + 1})
		codes = append(codes, bit)
	}
	return chosen, codes, nil
}

// bit finds "data[3]": bit 3 of the net that is declared as data[7:0], counted from the right end of its range.
func (d *dumpHead) bit(want string) (DumpBit, bool) {
	i := strings.LastIndexByte(want, '[')
	if i <= 0 || !strings.HasSuffix(want, "]") {
		return DumpBit{}, false
	}
	n, err := strconv.Atoi(want[i+1 : len(want)-1])
	if err != nil {
		return DumpBit{}, false
	}
	for _, v := range d.vars {
		name, span, _ := strings.Cut(v.name, "[")
		low := 0
		if _, right, ok := strings.Cut(strings.TrimSuffix(span, "]"), ":"); ok {
			low, _ = strconv.Atoi(right)
		}
		if bit := int(math.Abs(float64(n - low))); name == want[:i] && bit < v.width {
			return DumpBit{Code: v.code, Bit: bit}, true
		}
	}
	return DumpBit{}, false
}
