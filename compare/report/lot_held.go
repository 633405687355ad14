package report

import (
	"bytes"
	"compress/flate"
	"encoding/json"
	"fmt"
	"io"

	"offbeat/compare/ledger"
)

// LotHeld keeps what is written of each board until its lot is judged, since only then it is known which stand out: packed,
// some hundred bytes a board.
type LotHeld struct {
	packed bytes.Buffer
	w      *flate.Writer
}

// NewLotHeld begins with no board.
func NewLotHeld() (*LotHeld, error) {
	h := &LotHeld{}
	var err error
	h.w, err = flate.NewWriter(&h.packed, flate.BestSpeed)
	return h, err
}

// Add keeps a board.
func (h *LotHeld) Add(v *ledger.Visit) error {
	text, err := compact(v)
	if err == nil {
		_, err = h.w.Write(text)
	}
	if err != nil {
		return fmt.Errorf("board %s: %w", v.Board, err)
	}
	return nil
}

// Each hands out the boards, in the order in which they were added.
func (h *LotHeld) Each(take func(i int, v *ledger.Visit) error) error {
	if err := h.w.Close(); err != nil {
		return err
	}
	d := json.NewDecoder(flate.NewReader(&h.packed))
	for i := 0; ; i++ {
		v := &ledger.Visit{}
		if err := d.Decode(v); err == io.EOF {
			return nil
		} else if err != nil {
			return err
		}
		if err := take(i, v); err != nil {
			return err
		}
	}
}
