package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"offbeat/acquire/quantity"
	"offbeat/cmd/internal/benchpage"
	"offbeat/cmd/internal/designfile"
	"offbeat/compare"
	"offbeat/compare/lot"
	"offbeat/compare/report/document"
	"offbeat/compare/report/page"
	"offbeat/fit"
)

// Judge judges a state's lot as offbeat lot does.
func (w *workbench) Judge(ctx context.Context, state *benchpage.State, tell func(done, total int)) (*benchpage.Judged, error) {
	boards, err := w.boards(state.Lot)
	if err != nil {
		return nil, err
	}
	d, _, err := designfile.ReadFrom(w.path(), strings.NewReader(state.Design), designfile.Flags{})
	if err != nil {
		return nil, err
	}
	job := &lotJob{lotOptions: &lotOptions{Boards: []string{boards}, Lot: lot.Options{LotSize: state.Lot.Size, AQL: state.Lot.AQL}}, s: w.s, design: d, judge: lot.NewReconciler(d)}
	if err := job.read.prepare(d, &job.Output); err != nil {
		return nil, err
	}
	if job.read.latch != nil {
		return nil, fmt.Errorf("the %s circuit keeps no time, so there is nothing to judge a lot by; expected its boards one at a time", d.Circuit)
	}
	job.read.runs = false
	w.mu.Lock()
	done := w.lots
	w.mu.Unlock()
	key := state.Design + "\x00" + boards
	if done != nil && w.lotsOf == key { // another size or limit changes no board
		job.boards, job.notes, job.collector = done.boards, done.notes, done.collector
		if err := job.Lot.Check(lot.Largest(job.boards)); err != nil {
			return nil, err
		}
	} else {
		if err := job.list(); err != nil {
			return nil, w.shortened(err, boards)
		}
		job.collector = lot.NewCollector(d)
		if err := lot.Run(ctx, job.boards, job.work, lot.RunOptions{Progress: tell}, func(o *lot.Outcome) error { job.collector.Add(o); return nil }); err != nil {
			return nil, err
		}
		w.mu.Lock()
		w.lots, w.lotsOf = job, key
		w.mu.Unlock()
	}
	r, err := decideLot(job.collector, job.Lot)
	if err != nil {
		return nil, err
	}
	r.Warnings = slices.Concat(job.notes, d.Notes, r.Warnings)
	out := &benchpage.Judged{Command: w.lotCommand(state.Lot, w.savedLot(state.Lot, w.path()))}
	if out.Finding, out.Sections, err = page.Parts(document.Of(&document.Basis{Design: d, Lot: r, Boards: job.collector.Rows()}), "l-"); err != nil {
		return nil, err
	}
	own := func(text string) string { return strings.ReplaceAll(text, boards+string(filepath.Separator), "") } // the private folder says nothing
	if len(state.Lot.Files) == 0 {
		own = func(text string) string { return text }
	}
	out.Finding = own(out.Finding)
	for i := range out.Sections {
		out.Sections[i].HTML = own(out.Sections[i].HTML)
	}
	at, q := lotQuantity(d)
	out.Quantity, out.Limits = q.Name, limitsOf(d, q.Key)
	out.Columns = []string{"board", "verdict", q.Name, "duty factor", "likeliest cause", "probability"}
	if len(r.Lots) > 1 {
		out.Columns = append(out.Columns, "lot")
	}
	for i := range job.collector.Rows() {
		row := &job.collector.Rows()[i]
		out.Boards = append(out.Boards, w.lotBoard(row, &job.boards[i], at, q.Unit, own, len(out.Columns)))
	}
	return out, nil
}

// lotQuantity is what a lot's boards are shown in: the first of the target, else the frequency.
func lotQuantity(d *fit.Design) (at int, q compare.Quantity) {
	key := "frequency"
	if len(d.Targets) > 0 {
		key = d.Targets[0].Quantity
	}
	at = max(0, compare.PlaceOf(key))
	return at, compare.Quantities[at]
}

// maxLimits is more than any finite limits lie apart.
const maxLimits = 1e300

// limitsOf are those of a target; nil: there is none.
func limitsOf(d *fit.Design, key string) []float64 {
	for _, t := range d.Targets {
		if t.Quantity == key && t.High-t.Low < maxLimits {
			return []float64{t.Low, t.High}
		}
	}
	return nil
}

// lotBoard is a board's line of the table, with what opens it.
func (w *workbench) lotBoard(row *lot.Row, b *lot.Board, at int, unit quantity.Unit, own func(string) string, columns int) benchpage.LotBoard {
	out := benchpage.LotBoard{Name: row.Board, Verdict: row.Verdict, Evidence: w.evidenceOf(b, own)}
	number := func(text string, v float64) benchpage.LotCell { return benchpage.LotCell{Text: text, Sort: &v} }
	switch {
	case row.Judged():
		v := row.Values[at]
		out.Value = &v
		duty := benchpage.LotCell{}
		if row.Values[4] > 0 {
			duty = number(quantity.Relative(row.Values[4]), row.Values[4])
		}
		out.Cells = []benchpage.LotCell{{Text: row.Board}, {Text: row.Verdict}, number(quantity.Uncertain(v, row.Each[0].Uncertainties[at], unit), v), duty,
			{Text: row.CauseTitle()}, number(quantity.Probability(row.Cause.Probability), row.Cause.Probability)}
	case row.Silent != "":
		out.Verdict = "fail"
		out.Cells = []benchpage.LotCell{{Text: row.Board}, {Text: "no pulses"}, {}, {}, {Text: own(row.Silent)}, {}}
	default:
		out.Cells = []benchpage.LotCell{{Text: row.Board}, {Text: "not read"}, {}, {}, {Text: own(row.Error)}, {}}
	}
	if columns > len(out.Cells) {
		out.Cells = append(out.Cells, benchpage.LotCell{Text: row.Lot})
	}
	return out
}

// evidenceOf is a board's captures and readings as evidence.
func (w *workbench) evidenceOf(b *lot.Board, own func(string) string) (out []benchpage.Row) {
	for i, c := range b.Captures {
		digest := ""
		if i < len(b.Digests) {
			digest = b.Digests[i]
		}
		f := w.files.Known(own(c.Capture), c.Capture, digest)
		f.Sent = own(c.Capture) != c.Capture // it is in the private folder
		row := benchpage.Row{File: f.ID}
		row.Capture = own(c.Capture)
		if f.Sent {
			row.Capture = filepath.Join(w.folder, filepath.Base(f.Name))
			f.Name = filepath.Base(f.Name)
		}
		out = append(out, row)
		add := func(name string, q quantity.Quantity) {
			row := benchpage.Row{}
			row.Reading = name + " = " + q.String()
			out = append(out, row)
		}
		if c.Supply != nil {
			add("supply", *c.Supply)
		}
		for _, r := range c.Readings {
			add(r.Name, r.Quantity)
		}
	}
	return out
}

// boards is where a lot's boards are: what the command line named, or a private folder of what was sent, with its manifest
// under the name that a folder's has.
func (w *workbench) boards(l *benchpage.Lot) (string, error) {
	switch {
	case l == nil, len(l.Files) == 0 && w.lot == "":
		return "", errors.New("there is no lot; drop a folder of captures, or a manifest with its captures")
	case len(l.Files) == 0:
		return w.lot, nil
	}
	files := slices.Clone(l.Files)
	for i := range files {
		folder := files[i].Path[:strings.LastIndexByte(files[i].Path, '/')+1]
		if f := w.files.Get(files[i].File); f != nil && listsBoards(f) {
			files[i].Path = folder + "manifest.csv"
			break
		}
	}
	return w.files.Folder(files)
}

// listsBoards tells a manifest by the columns in its first line that every manifest has.
func listsBoards(f *benchpage.File) bool {
	r, err := os.Open(f.Path)
	if err != nil {
		return false
	}
	defer r.Close()
	head := make([]byte, 1024)
	n, _ := io.ReadFull(r, head)
	first, _, _ := bytes.Cut(bytes.ToLower(head[:n]), []byte("\n"))
	return bytes.Contains(first, []byte("board")) && bytes.Contains(first, []byte("capture"))
}

// shortened takes the private folder out of an error's words.
func (w *workbench) shortened(err error, folder string) error {
	return errors.New(strings.ReplaceAll(said(err), folder+string(filepath.Separator), ""))
}

// savedLot is where a lot that was sent is saved beside the design; empty: it is where its user has it.
func (w *workbench) savedLot(l *benchpage.Lot, design string) string {
	if l == nil || len(l.Files) == 0 {
		return w.lot
	}
	return strings.TrimSuffix(design, ".toml") + "-lot"
}

// lotCommand is the command line that judges a lot.
func (w *workbench) lotCommand(l *benchpage.Lot, boards string) string {
	out := "offbeat lot " + shellWord(w.path()) + " " + shellWord(boards)
	if l.Size > 0 {
		out += fmt.Sprint(" --lot-size ", l.Size)
	}
	if l.AQL > 0 {
		out += fmt.Sprint(" --aql ", l.AQL)
	}
	return out
}

// saveLot puts a lot that was sent beside the design, whole or not at all; what is there already under that name must be it.
func (w *workbench) saveLot(l *benchpage.Lot, design string) (written []string, err error) {
	if l == nil || len(l.Files) == 0 {
		return nil, nil
	}
	from, err := w.boards(l)
	if err != nil {
		return nil, err
	}
	to := w.savedLot(l, design)
	if i, err := os.Lstat(to); err == nil {
		if i.IsDir() && sameFiles(from, to) {
			return nil, nil
		}
		return nil, fmt.Errorf("%s is there already and holds another lot; save under another name", to)
	}
	making, err := os.MkdirTemp(filepath.Dir(to), ".offbeat-lot-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(making) // gone already when it took its place
	if err := os.CopyFS(making, os.DirFS(from)); err != nil {
		return nil, err
	}
	if err := os.Chmod(making, 0o755); err != nil {
		return nil, err
	}
	return []string{to}, os.Rename(making, to)
}

// sameFiles says whether a folder holds exactly what another does.
func sameFiles(a, b string) bool {
	list := func(folder string) (out []string) {
		fs.WalkDir(os.DirFS(folder), ".", func(path string, e fs.DirEntry, err error) error {
			if err == nil && !e.IsDir() {
				digest, _ := lot.Digest(filepath.Join(folder, path))
				out = append(out, path+" "+digest)
			}
			return err
		})
		return out
	}
	return slices.Equal(list(a), list(b))
}
