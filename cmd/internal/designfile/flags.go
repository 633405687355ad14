package designfile

import "strings"

// Flags are what stands for a design on the command line, each as typed. The zero value stands for nothing.
type Flags struct {
	Circuit, Supply, Family, Inputs, History, Clock string
	Scale, Zero                                     string   // limits of the channel that shows the capacitor
	Parts                                           []string // NAME=VALUE, also NAME.kind=film and the like
	Targets                                         []string // QUANTITY=VALUE
	Was                                             []string // likewise, as it used to be
	Readings                                        []string // NAME=VALUE
	Tolerances                                      []string // R=1%, C=10%: of parts that have none of their own
}

// entries lists what the flags say.
func (f Flags) entries() ([]entry, error) {
	var out []entry
	for _, s := range []struct{ flag, key, value string }{
		{"--circuit", "circuit", f.Circuit},
		{"--supply", "supply", f.Supply},
		{"--family", "timer.family", f.Family},
		{"--inputs", "timer.inputs", f.Inputs},
		{"--history", "history", f.History},
		{"--clock", "instrument.clock", f.Clock},
		{"--channel-scale", "instrument.channel_scale", f.Scale},
		{"--channel-zero", "instrument.channel_zero", f.Zero},
	} {
		if s.value != "" {
			at := place{file: s.flag, text: s.value, typed: true}
			out = append(out, entry{path: strings.Split(s.key, "."), value: s.value, key: at, at: at, plain: true})
		}
	}
	for _, s := range []struct {
		flag, table, example string
		values               []string
	}{
		{"--part", "parts", "R1=10k:1%", f.Parts},
		{"--target", "target", "frequency=138Hz:3%", f.Targets},
		{"--was", "was", "frequency=138Hz:3%", f.Was},
		{"--reading", "readings", "R2=46.93k:0.3%", f.Readings},
	} {
		for _, v := range s.values {
			key := place{file: s.flag, text: v, typed: true}
			name, value, found := strings.Cut(v, "=")
			if !found || strings.TrimSpace(name) == "" {
				return nil, key.fail(quoted(v)+" names nothing to set", "NAME=VALUE, such as "+s.example, "")
			}
			at := key
			at.offset = len(name) + 1
			path := append([]string{s.table}, strings.Split(strings.TrimSpace(name), ".")...)
			out = append(out, entry{path: path, value: value, key: key, at: at, plain: true})
		}
	}
	return out, nil
}
