package open

import (
	"offbeat/acquire"
	"offbeat/acquire/read"
)

// Source is one input being read: its records come one after the other from Next.
type Source struct {
	name   string
	opt    acquire.Options
	close  func() error
	text   *text
	counts acquire.Counts
	reader read.Reader
	err    error // sticky
}
