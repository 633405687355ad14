package recognise

import (
	"offbeat/acquire"
	"offbeat/acquire/internal/scan"
)

// bitsShape: the samples of one line as a run of zeros and ones, on one line of text or on several that go on.
var bitsShape = shape{name: "run of zeros and ones", fits: fitBits}

func fitBits(h *head, opt acquire.Options) (*proposal, error) {
	longest := 0
	for i := h.first; i < h.last; i++ {
		n, _ := scan.BitsOf(h.cell(i, 0))
		if longest = max(longest, n); n == 0 {
			return nil, nil
		}
	}
	if h.width() != 1 || longest < 2 || longest <= mostLines && h.last > h.first+1 {
		return nil, nil
	}
	only, err := h.onlyChannel(opt)
	if err != nil {
		return nil, err
	}
	q := h.begin(-1).propose(acquire.Logic)
	q.Lines, q.Channels, q.Start, q.Step, q.Rounding = Bits{}, only, h.meta.start, h.meta.interval, h.meta.rounding
	if opt.Interval > 0 {
		q.Step, q.Rounding = opt.Interval, 0
	}
	if q.Step == 0 {
		return nil, h.noInterval("the zeros and ones are samples, and no sample interval is stated")
	}
	q.say("each character is a sample: they are %.9g s apart", q.Step)
	return q, nil
}
