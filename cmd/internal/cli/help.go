package cli

import (
	"cmp"
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"offbeat/cmd/internal/streams"
	"offbeat/compare/report/text"
)

// newHelp shows the page of a command or a topic.
func newHelp(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		ValidArgsFunction: offer(arguments["help"]),

		Use:   "help [COMMAND|TOPIC]",
		Short: "Show the page of a command or a topic",
		RunE: func(_ *cobra.Command, args []string) error {
			c, rest, err := root.Find(args)
			if err != nil {
				return usage(err)
			}
			if len(rest) > 0 {
				return noArguments(c, rest)
			}
			return c.Help()
		},
	}
}

// helpPage is how every command and topic shows its page: the same words at any width.
func helpPage(s *streams.Streams) func(*cobra.Command, []string) {
	return func(c *cobra.Command, _ []string) {
		long := strings.TrimSpace(cmp.Or(c.Long, c.Short)) + "\n\n"
		if c.Runnable() || c.HasAvailableSubCommands() {
			long += c.UsageString()
		}
		fmt.Fprint(s.Out, reflow(long, s.Width))
	}
}

// entry begins the line of a list: a command, a flag or what a share is of, and a gap before the words about it.
var entry = regexp.MustCompile(`^ {2}(?:[a-z]\S*| {0,4}-.*?\S) {2,}(?:\d\S* %\s{2,})?`)

// reflow breaks what is wider than the page: paragraphs anew, the words of a list's line under themselves, a command as a shell
// lets it. What else is there to be copied stays whole.
func reflow(long string, width int) string {
	var out, paragraph []string
	widest := 0
	flush := func() {
		if widest > width {
			paragraph = text.Wrap(strings.Join(paragraph, " "), width)
		}
		out, paragraph, widest = append(out, paragraph...), nil, 0
	}
	for line := range strings.SplitSeq(long, "\n") {
		n := utf8.RuneCountInString(line)
		if n > 0 && line[0] != ' ' {
			paragraph, widest = append(paragraph, line), max(widest, n)
			continue
		}
		flush()
		if n > width && strings.HasPrefix(line, "  offbeat ") && !strings.Contains(line, "|") {
			out = append(out, text.Command(strings.TrimSpace(line), "  ", width)...)
			continue
		}
		lead := entry.FindString(line)
		room := width - utf8.RuneCountInString(lead)
		if n <= width || lead == "" || room < narrowWords {
			out = append(out, line)
			continue
		}
		for i, words := range text.Wrap(strings.TrimPrefix(line, lead), room) {
			if i > 0 {
				lead = strings.Repeat(" ", width-room)
			}
			out = append(out, lead+words)
		}
	}
	flush()
	return strings.Join(out, "\n")
}

// narrowWords is the narrowest column that words are broken into.
const narrowWords = 20

// ownWords gives the options that the library adds the program's own words, in a command and those below it.
func ownWords(c *cobra.Command) {
	c.InitDefaultHelpFlag()
	c.InitDefaultVersionFlag()
	for name, text := range map[string]string{"help": "show this page", "version": "print the version"} {
		if f := c.Flags().Lookup(name); f != nil {
			f.Usage = text
		}
	}
	for _, s := range c.Commands() {
		ownWords(s)
	}
}

// usagePage writes how a command is typed, its examples, commands, topics and options, under the headings of a manual page.
func usagePage(c *cobra.Command) error {
	var b strings.Builder
	section := func(heading, body string) {
		if body != "" {
			fmt.Fprintf(&b, "%s\n%s\n\n", heading, strings.TrimRight(body, "\n"))
		}
	}
	section("SYNOPSIS", ways(c))
	section("EXAMPLES", c.Example)
	section("COMMANDS", listed(c, func(s *cobra.Command) bool { return s.IsAvailableCommand() || s.Name() == "help" }))
	section("TOPICS", listed(c, func(s *cobra.Command) bool { return s.IsAdditionalHelpTopicCommand() && !s.Hidden }))
	section("OPTIONS", c.LocalFlags().FlagUsages())
	if c.HasSubCommands() {
		of := strings.TrimPrefix(c.CommandPath()+" ", "offbeat ")
		fmt.Fprintf(&b, "offbeat help %sNAME shows the page of one.\n", of)
	}
	_, err := fmt.Fprint(c.OutOrStderr(), strings.TrimRight(b.String(), "\n")+"\n")
	return err
}

// ways are the ways in which a command is typed.
func ways(c *cobra.Command) string {
	var lines []string
	if c.Runnable() && c.HasParent() {
		line := c.CommandPath() + strings.TrimPrefix(c.Use, c.Name())
		if c.HasAvailableLocalFlags() {
			line += " [OPTIONS]"
		}
		lines = append(lines, "  "+line)
	}
	if c.HasAvailableSubCommands() {
		lines = append(lines, "  "+c.CommandPath()+" COMMAND [OPTIONS]")
	}
	return strings.Join(lines, "\n")
}

// listed names the commands below one that are of a kind, with what each does.
func listed(c *cobra.Command, is func(*cobra.Command) bool) string {
	widest := 0
	for _, s := range c.Commands() {
		if is(s) {
			widest = max(widest, len(s.Name()))
		}
	}
	var b strings.Builder
	for _, s := range c.Commands() {
		if is(s) {
			fmt.Fprintf(&b, "  %-*s  %s\n", widest, s.Name(), s.Short)
		}
	}
	return b.String()
}
