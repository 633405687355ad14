package cli

import (
	"cmp"
	"strings"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/designfile"
	"offbeat/cmd/internal/streams"
	"offbeat/compare/glossary"
	"offbeat/compare/report/document"
	"offbeat/compare/report/text"
)

func newExplain(s *streams.Streams) *cobra.Command {
	return worded("explain", func(_ *cobra.Command, args []string) error {
		style := text.Style{Width: s.Width, Color: s.Color}
		if len(args) == 0 {
			return printed(text.Write(s.Out, document.Glossary(), style))
		}
		word := strings.Join(args, " ")
		t, ok := glossary.Lookup(word)
		if !ok {
			return usagef("no word %q%s", word, cmp.Or(designfile.Meant("; ", word, glossary.Names()), "; offbeat explain lists all words"))
		}
		return printed(text.Write(s.Out, document.Explained(t), style))
	})
}
