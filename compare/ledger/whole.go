package ledger

import "offbeat/compare"

// Whole is all that was found of a single board, with the words that the finding's own JSON leaves out, so that it can be
// printed again as it was.
type Whole struct {
	*compare.Finding
	Runs        bool     `json:"runs"` // how the times ran was looked at
	Answer      []string `json:"answer"`
	Briefs      []string `json:"briefs"`      // of the causes
	Kinds       []string `json:"kinds"`       // of the next readings
	Unsupported []bool   `json:"unsupported"` // of the parts
}

// WholeOf keeps a finding; runs says that how the times ran was looked at.
func WholeOf(f *compare.Finding, runs bool) *Whole {
	w := &Whole{Finding: f, Runs: runs, Answer: f.Answer}
	for i := range f.Causes {
		w.Briefs = append(w.Briefs, f.Causes[i].Brief)
	}
	for i := range f.Next {
		w.Kinds = append(w.Kinds, f.Next[i].Kind)
	}
	for i := range f.Parts {
		w.Unsupported = append(w.Unsupported, f.Parts[i].Unsupported)
	}
	return w
}

// Restored is the finding as it was; nil where it was not kept whole.
func (w *Whole) Restored() *compare.Finding {
	if w == nil || w.Finding == nil || len(w.Briefs) != len(w.Causes) || len(w.Kinds) != len(w.Next) || len(w.Unsupported) != len(w.Parts) {
		return nil
	}
	f := *w.Finding
	f.Answer = w.Answer
	for i, text := range w.Briefs {
		f.Causes[i].Brief = text
	}
	for i, kind := range w.Kinds {
		f.Next[i].Kind = kind
	}
	for i, not := range w.Unsupported {
		f.Parts[i].Unsupported = not
	}
	return &f
}
