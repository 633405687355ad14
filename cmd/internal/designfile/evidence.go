package designfile

import (
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"offbeat/fit"
)

// Evidence is one [[evidence]] table of a design: a capture with what was special about it, a reading, or a look.
type Evidence struct {
	Capture  string   `json:"capture,omitempty"` // the file, from the folder of the design; empty: a reading
	SHA256   string   `json:"sha256,omitempty"`  // of the file when it was saved; empty: not noted
	With     []string `json:"with,omitempty"`    // conditions, as --with takes them
	Reading  string   `json:"reading,omitempty"` // as --reading takes it
	Look     string   `json:"look,omitempty"`    // as --look takes it
	Channels []string `json:"channel,omitempty"` // as --channel takes them
	Invert   bool     `json:"invert,omitempty"`
	Single   bool     `json:"single,omitempty"`
	TimeUnit string   `json:"time_unit,omitempty"`
	Level    string   `json:"level,omitempty"`
	Off      bool     `json:"off,omitempty"` // left out
	at       place
}

// Fail is a fault of the evidence, at its place in the file.
func (e *Evidence) Fail(what, expect, do string) error { return e.at.fail(what, expect, do) }

// evidenceKeys are the keys of an [[evidence]] table and what they set.
var evidenceKeys = []struct {
	name string
	text func(*Evidence) *string
	list func(*Evidence) *[]string
	flag func(*Evidence) *bool
}{
	{name: "capture", text: func(e *Evidence) *string { return &e.Capture }},
	{name: "sha256", text: func(e *Evidence) *string { return &e.SHA256 }},
	{name: "with", list: func(e *Evidence) *[]string { return &e.With }},
	{name: "reading", text: func(e *Evidence) *string { return &e.Reading }},
	{name: "look", text: func(e *Evidence) *string { return &e.Look }},
	{name: "channel", list: func(e *Evidence) *[]string { return &e.Channels }},
	{name: "invert", flag: func(e *Evidence) *bool { return &e.Invert }},
	{name: "single", flag: func(e *Evidence) *bool { return &e.Single }},
	{name: "time_unit", text: func(e *Evidence) *string { return &e.TimeUnit }},
	{name: "level", text: func(e *Evidence) *string { return &e.Level }},
	{name: "on", flag: func(e *Evidence) *bool { return &e.Off }}, // turned round below
}

// evidence takes the [[evidence]] tables out of the entries; their readings join those of the design.
func (b *builder) evidence() ([]Evidence, error) {
	var all []Evidence
	var rest, readings []entry
	for i := range b.entries {
		e := &b.entries[i]
		if e.path[0] != evidenceTable {
			rest = append(rest, *e)
			continue
		}
		if e.kind == header {
			all = append(all, Evidence{at: e.key})
			continue
		}
		if len(e.path) != 3 || len(all) == 0 {
			return nil, e.key.fail("evidence is a list of tables", "a line [["+evidenceTable+"]] with its keys below", "")
		}
		if err := all[len(all)-1].set(e); err != nil {
			return nil, err
		}
	}
	for i := range all {
		v := &all[i]
		switch {
		case v.kinds() != 1:
			return nil, v.at.fail("this evidence is neither a capture, a reading nor a look, or several of them", "one of capture, reading and look", "")
		case v.Capture == "" && (len(v.With) > 0 || len(v.Channels) > 0 || v.Invert || v.Single || v.TimeUnit != "" || v.Level != ""):
			return nil, v.at.fail("a reading or a look has conditions of a capture", "reading or look, and on, alone", "")
		case v.Capture != "" && !filepath.IsAbs(v.Capture) && !IsStill(v.Capture):
			v.Capture = filepath.Join(filepath.Dir(b.top.file), filepath.FromSlash(v.Capture))
		}
		if v.Reading == "" || v.Off {
			continue
		}
		name, value, found := strings.Cut(v.Reading, "=")
		if !found || strings.TrimSpace(name) == "" {
			return nil, v.at.fail(quoted(v.Reading)+" names nothing that was read", `NAME = VALUE, such as reading = "R2 = 46.93k ± 0.3 %"`, "")
		}
		readings = append(readings, entry{path: []string{"readings", strings.TrimSpace(name)}, value: value, key: v.at, at: v.at})
	}
	b.entries = override(rest, readings)
	return all, nil
}

// kinds is how many of the three kinds of evidence it is.
func (v *Evidence) kinds() (n int) {
	for _, text := range []string{v.Capture, v.Reading, v.Look} {
		if text != "" {
			n++
		}
	}
	return n
}

// looks gives the design what its evidence says was seen.
func looks(all []Evidence, d *fit.Design) error {
	for i := range all {
		if v := &all[i]; v.Look != "" && !v.Off {
			at := v.at
			if err := look(v.Look, d, at); err != nil {
				return err
			}
		}
	}
	return nil
}

// set takes one key in.
func (v *Evidence) set(e *entry) error {
	var names []string
	for _, k := range evidenceKeys {
		names = append(names, k.name)
		if k.name != e.last() {
			continue
		}
		switch {
		case k.flag != nil:
			on, err := strconv.ParseBool(e.value)
			if err != nil || e.kind != other {
				return e.at.fail(e.last()+" = "+e.value+" is neither true nor false", "true or false, without quotes", "")
			}
			*k.flag(v) = on != (k.name == "on")
		case e.kind != text && !(k.list != nil && e.kind == number):
			return e.at.fail(e.last()+" is no text", "a text in quotes", "")
		case k.list != nil:
			*k.list(v) = append(*k.list(v), e.value)
		case *k.text(v) != "":
			return e.at.fail(e.last()+" is a list", "one text", "")
		default:
			*k.text(v) = e.value
		}
		return nil
	}
	return e.key.fail("unknown key "+quoted(e.last()), "one of "+strings.Join(names, ", "), Meant("", e.last(), names))
}

// On lists the evidence that counts and is a capture.
func On(all []Evidence) []Evidence {
	return slices.DeleteFunc(slices.Clone(all), func(e Evidence) bool { return e.Off || e.Capture == "" })
}
