package designfile

import (
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/fit"
)

// NoPulse is how an output that stood still is written where a capture is named.
const NoPulse = "no pulse in"

// IsStill says whether a capture's name is that of an output that stood still.
func IsStill(name string) bool { return strings.HasPrefix(plainly(name), NoPulse+" ") }

// plainly is the text with one space between words, and one pulse.
func plainly(text string) string {
	return strings.Replace(strings.Join(strings.Fields(text), " "), "no pulses", "no pulse", 1)
}

// Still reads "no pulse in 60 s"; ok is false where the text names a file.
func Still(text string) (s fit.Still, ok bool, err error) {
	if !IsStill(text) {
		return s, false, nil
	}
	value := strings.TrimPrefix(plainly(text), NoPulse+" ")
	q, err := quantity.Parse(value, quantity.Second)
	if err != nil {
		at := place{file: "the capture", text: text, typed: true}
		return s, true, at.fail(quoted(value)+" is no time", "how long the output stood still, such as "+quoted(NoPulse+" 60 s"), "")
	}
	s.Seconds = q.Value
	return s, true, nil
}
