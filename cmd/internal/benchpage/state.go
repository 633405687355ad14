// Package benchpage serves the bench page: board, evidence, answer and what to do next on one page, to this machine alone.
//
//	state.go    what the page and the server tell each other
//	files.go    the captures: those that were named, and those that were sent, in a private folder; what a port brings, to be made one
//	server.go   the addresses, and who may ask for them
//
// The server keeps captures and nothing else. The page holds the whole state, with what is needed to undo, and sends it with
// each question; what the answers are made of is the business of who starts it (Bench).
package benchpage

import (
	"context"
	"io"

	"offbeat/cmd/internal/designfile"
	"offbeat/compare/report/page"
)

// State is all that an answer follows from.
type State struct {
	Design   string `json:"design"` // the text of the design, without evidence
	Evidence []Row  `json:"evidence"`
	Lot      *Lot   `json:"lot,omitempty"` // boards of this design; nil: none
}

// Lot is many boards, by their captures and perhaps a manifest.
type Lot struct {
	Files []LotFile `json:"files,omitempty"` // none: what the command line named
	Size  int       `json:"size,omitempty"`  // of the lot that they were drawn from; 0: they are all
	AQL   float64   `json:"aql,omitempty"`   // percent; 0: the default
}

// Judged is what a lot says.
type Judged struct {
	Finding  string      `json:"finding"` // HTML
	Sections []page.Part `json:"sections"`
	Columns  []string    `json:"columns"`
	Boards   []LotBoard  `json:"boards"`
	Limits   []float64   `json:"limits,omitempty"` // of the target in the unit of Value; null where there is none
	Quantity string      `json:"quantity"`         // that Value is of
	Command  string      `json:"command"`
}

// LotBoard is one board of a lot.
type LotBoard struct {
	Name     string    `json:"name"`
	Verdict  string    `json:"verdict"`
	Value    *float64  `json:"value"` // nil: not judged
	Cells    []LotCell `json:"cells"` // one a column
	Evidence []Row     `json:"evidence"`
}

// LotCell is a cell of the boards' table.
type LotCell struct {
	Text string   `json:"text"`
	Sort *float64 `json:"sort,omitempty"` // nil: by its text
}

// Row is one evidence. A capture's file is known to the server by File.
type Row struct {
	designfile.Evidence
	File string `json:"file,omitempty"`
}

// Board is what a design's text says.
type Board struct {
	Design    string             `json:"design"` // with the change that was asked for
	Fields    []designfile.Field `json:"fields,omitempty"`
	Fault     *Fault             `json:"fault,omitempty"` // why there is no prediction
	Promise   string             `json:"promise,omitempty"`
	Sections  []page.Part        `json:"sections,omitempty"` // of the prediction
	Schematic string             `json:"schematic,omitempty"`
}

// Fault is an error with its place.
type Fault struct {
	Message string    `json:"message"` // all of it
	Short   string    `json:"short"`   // what, what was expected and what to do, without the place
	Line    int       `json:"line,omitempty"`
	Column  int       `json:"column,omitempty"`
	Key     string    `json:"key,omitempty"` // of the field where it stands
	Row     int       `json:"row"`           // of the evidence; -1: none
	Columns []Channel `json:"columns,omitempty"`
}

// Channel is one of the columns of which one must be chosen.
type Channel struct {
	Number int    `json:"number"`
	Name   string `json:"name"`
	Text   string `json:"text"` // what it would say as the output
	HTML   string `json:"html"` // its trace
}

// Answer is what the state says.
type Answer struct {
	Title    string      `json:"title"`
	Finding  string      `json:"finding"` // HTML
	Sections []page.Part `json:"sections"`
	Causes   []Cause     `json:"causes"`
	Next     []Next      `json:"next"`
	After    string      `json:"after"` // what to do when no reading remains
	Rows     []Measured  `json:"rows"`  // one an evidence
	Command  string      `json:"command"`
	Unsaved  bool        `json:"unsaved"` // the command gives this answer once the state is saved
}

// Cause is a cause with its probability.
type Cause struct {
	Name        string  `json:"name"` // the same from answer to answer
	Probability float64 `json:"probability"`
	Text        string  `json:"text"` // the probability in words
}

// Next is a reading to take, and how it is told.
type Next struct {
	Reading   string   `json:"reading"`
	Kind      string   `json:"kind"`
	Caution   string   `json:"caution"`
	Minutes   float64  `json:"minutes"`
	Part      string   `json:"part,omitempty"`
	Condition string   `json:"condition,omitempty"` // of a new capture, with MEASURED for what is typed
	Direct    string   `json:"direct,omitempty"`    // what is read: NAME of NAME = MEASURED
	Look      string   `json:"look,omitempty"`      // what is looked at, with SEEN for the outcome
	Outcomes  []string `json:"outcomes,omitempty"`  // of the look
	Command   string   `json:"command,omitempty"`
	Means     []string `json:"means,omitempty"` // what each outcome would mean
}

// Measured is what an evidence says by itself.
type Measured struct {
	Text  string   `json:"text"`
	Notes []string `json:"notes,omitempty"`
}

// Stage is what was known when one more evidence had come.
type Stage struct {
	Row    int     `json:"row"`           // the last evidence that counts in it; -1: none yet, the prior odds
	Off    bool    `json:"off,omitempty"` // it is left out, and this would hold if it counted
	Causes []Cause `json:"causes"`
}

// Saved says what was written.
type Saved struct {
	Name    string   `json:"name"`
	Written []string `json:"written"` // files
	State   State    `json:"state"`   // with the names that captures have now
	Command string   `json:"command"`
}

// Start is what the page begins with.
type Start struct {
	State    State     `json:"state"`
	Name     string    `json:"name"`   // of the file to save to
	Folder   string    `json:"folder"` // where it will be
	Prefix   string    `json:"prefix"` // of the name of a capture there
	Saved    bool      `json:"saved"`  // the state is what the file holds
	Circuits []Circuit `json:"circuits"`
	Heard    *Heard    `json:"heard,omitempty"` // nil: nothing is listened to
}

// Heard is how a port or a stream stands that is being listened to.
type Heard struct {
	Source string `json:"source"`
	Since  string `json:"since"`          // the time of day from which on it would be taken
	Text   string `json:"text,omitempty"` // what the last seconds say; empty: nothing yet
	Gone   bool   `json:"gone,omitempty"` // the port is away, and waited for
	Ended  bool   `json:"ended,omitempty"`
	Why    string `json:"why,omitempty"` // it ended, where that was not the end of the stream
}

// Circuit is one of the circuits to begin with.
type Circuit struct {
	Name, Title, HTML, Design string
}

// Bench does the work.
type Bench interface {
	Start() (*Start, error)
	// Board says what a design's text says, after one of its values has been set; an empty key sets none.
	Board(design, key, value string) *Board
	// Solve answers a state; tell hears of captures that are being read.
	Solve(ctx context.Context, s *State, tell func(name string, read, total int64)) (*Answer, error)
	// Trail answers it with one more evidence at a time.
	Trail(ctx context.Context, s *State) ([]Stage, error)
	// Judge judges the state's lot; tell hears of boards that are done.
	Judge(ctx context.Context, s *State, tell func(done, total int)) (*Judged, error)
	// Report writes the answer as a page of its own.
	Report(ctx context.Context, s *State, w io.Writer) error
	// Save writes the state to a file of the folder; over allows it to take the place of one that is there.
	Save(s *State, name string, over bool) (*Saved, error)
	// Heard says how what is listened to stands; nil: nothing is.
	Heard() *Heard
	// Take makes a capture of what has been heard, where it is to be kept, and listens anew.
	Take(keep bool) (*File, error)
	// Fault explains an error of any of these.
	Fault(s *State, err error) *Fault
}
