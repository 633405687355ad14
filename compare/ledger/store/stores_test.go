package store

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// The whole suite runs against both databases. PostgreSQL is the server named by OFFBEAT_TEST_POSTGRES (a
// postgres:// address with the right to create schemas), or a cluster that the tests start for themselves where
// its programs are installed.

// TestMain lets the test program serve as the writers that other tests start and kill.
func TestMain(m *testing.M) {
	if where := os.Getenv("OFFBEAT_LEDGER_WRITER"); where != "" {
		if err := writeOn(where, os.Getenv("OFFBEAT_LEDGER_STATION"), os.Getenv("OFFBEAT_LEDGER_COUNT")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	status := m.Run()
	if cluster.stop != nil {
		cluster.stop()
	}
	os.Exit(status)
}

// each runs a test against both databases, each with an empty ledger.
func onBoth(t *testing.T, test func(t *testing.T, where string)) {
	t.Helper()
	t.Run("sqlite", func(t *testing.T) { test(t, filepath.Join(t.TempDir(), "harbour 100% lamps.db")) })
	t.Run("postgres", func(t *testing.T) { test(t, emptySchema(t)) })
}

// cluster is the tests' own PostgreSQL.
var cluster struct {
	once    sync.Once
	address string
	why     string                 // why there is none
	admin   func() (*Store, error) // who makes and drops schemas, on one connection for all tests
	restart func() error           // crashes the server and starts it again; nil where it is not ours
	stop    func()
}

// emptySchema gives the address of a schema of its own on the server.
func emptySchema(t *testing.T) string {
	t.Helper()
	cluster.once.Do(func() {
		if cluster.address = os.Getenv("OFFBEAT_TEST_POSTGRES"); cluster.address == "" {
			startCluster()
		}
		cluster.admin = sync.OnceValues(func() (*Store, error) { return postgres(cluster.address) })
	})
	if cluster.address == "" {
		t.Skip("no PostgreSQL: " + cluster.why)
	}
	name := fmt.Sprintf("lamps_%d_%d", os.Getpid(), time.Now().UnixNano())
	admin, err := cluster.admin()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := admin.db.Exec("CREATE SCHEMA " + name); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { admin.db.Exec("DROP SCHEMA " + name + " CASCADE") })
	u, err := url.Parse(cluster.address)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	q.Set("search_path", name)
	u.RawQuery = q.Encode()
	return u.String()
}

// program finds one of PostgreSQL's programs.
func program(name string) string {
	if p, err := exec.LookPath(name); err == nil {
		if real, err := filepath.EvalSymlinks(p); err == nil {
			return real
		}
	}
	all, _ := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	slices.Sort(all)
	if len(all) == 0 {
		return ""
	}
	return all[len(all)-1]
}

// startCluster makes a cluster in a folder of its own that listens on a socket in it. The server refuses to run
// as root; root hands it to another user.
func startCluster() {
	initdb, ctl := program("initdb"), program("pg_ctl")
	if initdb == "" || ctl == "" {
		cluster.why = "OFFBEAT_TEST_POSTGRES is not set, and initdb and pg_ctl are not installed (Debian: postgresql)"
		return
	}
	dir, err := os.MkdirTemp("", "ledger")
	if err != nil {
		cluster.why = err.Error()
		return
	}
	data := filepath.Join(dir, "data")
	run := func(name string, args ...string) error {
		c := exec.Command(name, args...)
		c.Dir = dir
		if err := unprivileged(c, dir); err != nil {
			return err
		}
		out, err := c.CombinedOutput()
		if err != nil {
			return fmt.Errorf("%s: %w: %s", filepath.Base(name), err, strings.TrimSpace(string(out)))
		}
		return nil
	}
	err = run(initdb, "-D", data, "-U", "harbour", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync", "--wal-segsize=1")
	// What would save the rows from a loss of power is off: no test takes the power away.
	start := func() error {
		return run(ctl, "-D", data, "-w", "-l", filepath.Join(dir, "log"), "-o", "-k "+dir+" -c listen_addresses='' -c fsync=off -c full_page_writes=off -c autovacuum=off -c jit=off", "start")
	}
	if err == nil {
		err = start()
	}
	if err != nil {
		os.RemoveAll(dir)
		cluster.why = err.Error()
		return
	}
	cluster.address = "postgres://harbour@/postgres?host=" + url.QueryEscape(dir)
	cluster.restart = func() error {
		if err := run(ctl, "-D", data, "-w", "-m", "immediate", "stop"); err != nil {
			return err
		}
		return start()
	}
	cluster.stop = func() {
		run(ctl, "-D", data, "-w", "-m", "fast", "stop")
		os.RemoveAll(dir)
	}
}

// writeOn records visits one after the other until it has count of them, or until it is killed (count "").
func writeOn(where, station, count string) error {
	ctx := context.Background()
	s, err := Open(ctx, where)
	if err != nil {
		return err
	}
	defer s.Close()
	for i := 0; count == "" || fmt.Sprint(i) != count; i++ {
		v := visit(fmt.Sprintf("lamp %d", i), station, i)
		if added, err := s.Record(ctx, &v); err != nil || !added {
			return errors.Join(err, fmt.Errorf("visit %d of station %s: added %v", i, station, added))
		}
		fmt.Println(i)
	}
	return nil
}
