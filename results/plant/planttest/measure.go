package planttest

import (
	"bytes"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/results/report/machine"
)

// Looks is how often something is timed.
const Looks = 7

// Timed is what was timed, [Looks] times.
type Timed struct {
	Name       string
	Median     time.Duration
	Most       time.Duration
	Processors time.Duration // on average, of this program and the server
	More       []string      // further columns
}

// Median is the middle one of some times, which it sorts, and the longest.
func Median(times []time.Duration) (median, most time.Duration) {
	slices.Sort(times)
	return times[len(times)/2], times[len(times)-1]
}

// MS writes a time in milliseconds.
func MS(d time.Duration) string { return strconv.FormatFloat(float64(d)/1e6, 'f', 1, 64) }

// Figures writes a table between <!-- name --> and <!-- end --> of a page of the docs, with the day and the machine. heads are those of
// the further columns.
func Figures(t testing.TB, page, name, of string, heads []string, rows []Timed) {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "%s; %s.\n\n", of, Machine(t))
	fmt.Fprintf(&b, "| | median, ms | at most, ms | of processors, ms |%s\n", strings.Join(append(slices.Clone(heads), ""), " | "))
	fmt.Fprintf(&b, "|---|---:|---:|---:|%s\n", strings.Repeat("---:|", len(heads)))
	for _, r := range rows {
		fmt.Fprintf(&b, "| %s | %s | %s | %s |%s\n", r.Name, MS(r.Median), MS(r.Most), MS(r.Processors), strings.Join(append(slices.Clone(r.More), ""), " | "))
	}
	text, err := os.ReadFile(page)
	require.NoError(t, err)
	before, behind, found := bytes.Cut(text, []byte("<!-- "+name+" -->\n"))
	_, after, ends := bytes.Cut(behind, []byte("<!-- end -->"))
	require.True(t, found && ends, "%s has no place called %s", page, name)
	all := slices.Concat(before, []byte("<!-- "+name+" -->\n"), []byte(b.String()), []byte("<!-- end -->"), after)
	require.NoError(t, os.WriteFile(page, all, 0o644))
}

// Machine says when and on what something is timed, and how busy it was for the last minute with whatever else.
func Machine(t testing.TB) string {
	t.Helper()
	m := machine.Here()
	require.NotEmpty(t, m.Load)
	return fmt.Sprintf("%s on %d cores (%s), of which %s were asked for on average in the minute before", time.Now().Format("2006-01-02"), m.Cores, m.Processor, m.Load)
}

// Processors gives what this program and the server of a database on this machine took of processors so far: what a
// question costs however busy the machine is with others. The server's counts in hundredths of a second.
func Processors(t testing.TB, db *sql.DB) func() time.Duration {
	var pid int
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT pg_backend_pid()`).Scan(&pid))
	parent := stat(pid)[1] // and with it those that have ended
	return func() (all time.Duration) {
		var own syscall.Rusage
		require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &own))
		all = time.Duration(own.Utime.Nano() + own.Stime.Nano())
		add := func(ticks ...int) {
			for _, n := range ticks {
				all += time.Duration(n) * 10 * time.Millisecond
			}
		}
		found, err := filepath.Glob("/proc/[0-9]*")
		require.NoError(t, err)
		for _, path := range found {
			pid, err := strconv.Atoi(filepath.Base(path))
			if err != nil {
				continue
			}
			switch s := stat(pid); {
			case pid == parent && s != nil:
				add(s[13], s[14])
			case s != nil && s[1] == parent:
				add(s[11], s[12])
			}
		}
		return all
	}
}

// stat are the numbers behind the name and the state in /proc/PID/stat, the parent as the second of them; nil for a
// process that has ended.
func stat(pid int) []int {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	_, behind, named := strings.Cut(string(text), ") ")
	if err != nil || !named {
		return nil
	}
	fields := strings.Fields(behind)
	numbers := make([]int, len(fields))
	for i, f := range fields {
		numbers[i], _ = strconv.Atoi(f) // the state is no number
	}
	return numbers
}
