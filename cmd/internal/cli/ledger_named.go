package cli

import (
	"context"
	"os"

	"github.com/spf13/cobra"

	"offbeat/compare/ledger"
)

// ledgerVariable names the ledger for commands that are given none.
const ledgerVariable = "OFFBEAT_LEDGER"

// withLedger opens a ledger for what is done with it, until the user interrupts.
func withLedger(open func(context.Context, string) (*ledger.Store, error), name string, do func(context.Context, *ledger.Store) error) error {
	ctx, stop := untilInterrupted()
	defer stop()
	store, err := open(ctx, name)
	if err != nil {
		return err
	}
	defer store.Close()
	return do(ctx, store)
}

// namedLedger takes the ledger of a command that needs other arguments too: the flag, else the environment.
type namedLedger struct{ Ledger string }

func (n *namedLedger) register(c *cobra.Command) {
	c.Flags().StringVar(&n.Ledger, "ledger", "", "the `LEDGER`, a file or postgres://… (default what "+ledgerVariable+" says)")
}

func (n *namedLedger) check() error {
	if n.Ledger == "" {
		n.Ledger = os.Getenv(ledgerVariable)
	}
	if n.Ledger == "" {
		return usagef("the ledger is missing; expected --ledger LEDGER, or %s in the environment", ledgerVariable)
	}
	return nil
}

// latest is the latest decision on each lot.
func latest(ctx context.Context, store *ledger.Store) (map[string]*ledger.Decision, error) {
	all, err := store.Decisions(ctx)
	out := map[string]*ledger.Decision{}
	for i := range all {
		out[all[i].Lot] = &all[i]
	}
	return out, err
}
