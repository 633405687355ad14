package recognise

import (
	"bytes"

	"offbeat/acquire/internal/scan"
)

// readMeta takes names and values from the lines above the table, comments too.
func (h *head) readMeta() {
	for i := range h.first {
		l := &h.lines[i]
		switch {
		case i == h.names || i == h.units:
		case IsComment(bytes.TrimSpace(l.text), h.delim):
			h.meta.readComment(l, i)
		case h.statesTimes(i):
			h.meta.readUnder(&h.lines[h.above(i)], l, i)
		default:
			h.meta.readPairs(l, i)
		}
	}
	if h.names >= 0 && h.units >= 0 { // start and increment behind the units
		for k, c := range h.lines[h.units].class {
			if c == scan.Number && k < len(h.lines[h.names].cells) {
				h.meta.pair(h.units, string(h.lines[h.names].cells[k]), string(h.lines[h.units].cells[k]), h.lines[h.units].column(k))
			}
		}
	}
	if h.meta.interval > 0 {
		h.say("line %d states a sample interval of %.9g s", h.meta.line, h.meta.interval)
	}
}
