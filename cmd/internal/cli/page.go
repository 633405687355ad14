package cli

import (
	"io"

	"offbeat/cmd/internal/streams"
	"offbeat/compare/report"
)

// page writes the illustrated page where one was asked for.
func (o *outputFlags) page(s *streams.Streams, p report.Page) error {
	if o.Report == "" {
		return nil
	}
	p.Made, p.Version = s.Now(), version()
	return writeText(o.Report, s, func(w io.Writer) error { return report.HTML(w, p) })
}
