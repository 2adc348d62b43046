package main

import (
	"bufio"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"padjig/cmd/padjig/account"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/answers/ratio"
	"padjig/results/store"
	"padjig/sequence/product"
)

var unitsAtEach = flag.Int("units-at-each", 3, "units that each jig of BenchmarkSixteenJigs tests at least in a round beside the others")

// BenchmarkSixteenJigs compares each of sixteen jigs of one station, all testing one unit after another of five products
// without a pause, with the same jig while the others wait; both in turn, in rounds. The jigs take the time that real ones
// take, each is a process of its own, and so is the station: its processor time and memory are its own alone. A screen
// follows each lane. The cycle is from the scan to the verdict on the screen, stored. A second station with one jig of the
// first product stands beside it, for what fifteen jigs more take.
//
// Sixteen simulations and sixteen screens compute on the same cores, which real ones do not. What of the longer cycle is theirs
// is seen in rounds in which the station has a core whenever it wants one: where the benchmark may set that.
func BenchmarkSixteenJigs(b *testing.B) {
	const jigs, rounds, idle = 16, 3, 20 * time.Second
	for b.Loop() {
		line, single := newFullLine(b, jigs), newFullLine(b, 1)
		all := func(units int, of func(*fullScreen) *cycles) { // nobody stops before everybody has had so many
			var group, enough sync.WaitGroup
			over := make(chan struct{})
			enough.Add(jigs)
			go func() { enough.Wait(); close(over) }()
			for _, s := range line.screens {
				group.Go(func() {
					for n := 1; ; n++ {
						s.into(b, of(s))
						if n == units {
							enough.Done()
						}
						select {
						case <-over:
							return
						default:
						}
					}
				})
			}
			group.Wait()
		}
		for _, s := range append(slices.Clone(line.screens), single.screens...) {
			s.test(b) // warms up: statements, pages of the file
		}
		var alone, together, ahead, nothing used
		for range rounds {
			alone.add(line, func() {
				for _, s := range line.screens {
					s.into(b, &s.alone)
				}
			})
			single.screens[0].into(b, &single.screens[0].alone)
			together.add(line, func() { all(*unitsAtEach, func(s *fullScreen) *cycles { return &s.together }) })
			if back, err := line.first(); err != nil {
				b.Log("no rounds in which the station is first in line for a core:", err)
			} else {
				ahead.add(line, func() { all(*unitsAtEach, func(s *fullScreen) *cycles { return &s.ahead }) })
				back()
			}
		}
		nothing.add(line, func() { <-time.After(idle) })
		var ratios, worst []float64
		var pairs ratio.Pairs
		for n, s := range line.screens {
			one, many := medianOf(s.alone.took), medianOf(s.together.took)
			pairs.Add(many, one)
			ratios = append(ratios, many.Seconds()/one.Seconds())
			worst = append(worst, slices.Max(s.together.took).Seconds()/one.Seconds())
			b.Logf("jig %2d %-11s alone %.3f s, beside the others %.3f s: %.3f; longest %.3f", n+1, s.product.Code,
				one.Seconds(), many.Seconds(), ratios[n], worst[n])
		}
		slices.Sort(ratios)
		measuring, beside := line.apart(func(s *fullScreen) cycles { return s.together })
		b.ReportMetric(measuring, "x-alone-measuring")
		b.ReportMetric(beside.Seconds()*1000, "ms-more-beside-measuring")
		if ahead.took > 0 {
			measuring, beside := line.apart(func(s *fullScreen) cycles { return s.ahead })
			b.ReportMetric(measuring, "x-alone-measuring-first-in-line")
			b.ReportMetric(beside.Seconds()*1000, "ms-more-beside-measuring-first-in-line")
		}
		units := 0.0
		for _, s := range line.screens {
			units += float64(len(s.together.took))
		}
		pairs.Report(b, "beside", "alone")
		b.ReportMetric(ratios[len(ratios)-1], "x-alone-worst-jig")
		b.ReportMetric(slices.Max(worst), "x-alone-longest-unit")
		b.ReportMetric(medianOf(line.screens[0].alone.took).Seconds()/medianOf(single.screens[0].alone.took).Seconds(), "x-one-jig-station")
		b.ReportMetric(together.station/units, "cpu-s/unit")
		b.ReportMetric(together.waited/units, "core-wait-s/unit")
		b.ReportMetric(alone.station/float64(jigs*rounds), "cpu-s/unit-alone")
		b.ReportMetric(together.jigs/units, "simulating-cpu-s/unit")
		b.ReportMetric(together.station/together.took.Seconds(), "cores")
		b.ReportMetric(nothing.station/nothing.took.Seconds(), "cores-idle")
		b.ReportMetric(units/together.took.Seconds(), "units/s")
		many, one := line.resident(b), single.resident(b)
		b.ReportMetric(float64(many)/(1<<20), "MiB")
		b.ReportMetric(float64(many-one)/(jigs-1)/(1<<20), "MiB/jig")
	}
}

// apart tells how much longer the jigs' part of a cycle takes than alone, as the median of the ratios, and how much more
// time there is beside it: for records, pages and whoever waits for whom.
func (l *fullLine) apart(of func(*fullScreen) cycles) (measuring float64, beside time.Duration) {
	s, err := results.OpenReadOnly(l.Context(), l.store)
	require.NoError(l, err)
	defer s.Close()
	var ratios []float64
	var more []time.Duration
	for _, screen := range l.screens {
		measured := func(c cycles) (in, besides []time.Duration) {
			for n, serial := range c.units {
				runs, err := s.Runs.Unit(l.Context(), serial)
				require.NoError(l, err)
				require.Len(l, runs, 1, serial)
				require.Equal(l, fmt.Sprintf("SIM-%04d", screen.lane), runs[0].Jig.Serial)
				in = append(in, time.Duration(runs[0].Duration))
				besides = append(besides, c.took[n]-time.Duration(runs[0].Duration))
			}
			return in, besides
		}
		one, oneBeside := measured(screen.alone)
		many, manyBeside := measured(of(screen))
		ratios = append(ratios, medianOf(many).Seconds()/medianOf(one).Seconds())
		more = append(more, medianOf(manyBeside)-medianOf(oneBeside))
	}
	slices.Sort(ratios)
	return ratios[len(ratios)/2], medianOf(more)
}

// first has the station get a core before anybody who shares the cores with it, until back is called.
func (l *fullLine) first() (back func(), err error) {
	usual, err := unix.SchedGetAttr(l.station, 0)
	if err != nil {
		return nil, err
	}
	set := func(attr unix.SchedAttr) (failed error) { // of every thread: later ones have it from those
		for _, thread := range l.threads() {
			if err := unix.SchedSetAttr(thread, &attr, 0); err != nil && !errors.Is(err, unix.ESRCH) {
				failed = err
			}
		}
		return failed
	}
	if err := set(unix.SchedAttr{Size: unix.SizeofSchedAttr, Policy: unix.SCHED_RR, Priority: 1}); err != nil {
		return nil, err
	}
	return func() { assert.NoError(l, set(*usual)) }, nil
}

func (l *fullLine) threads() (list []int) {
	entries, err := os.ReadDir(fmt.Sprintf("/proc/%d/task", l.station))
	require.NoError(l, err)
	for _, e := range entries {
		thread, err := strconv.Atoi(e.Name())
		require.NoError(l, err)
		list = append(list, thread)
	}
	return list
}

// coreWaits is how long the station's threads that there are have waited for a core, in seconds: the second number of
// schedstat is nanoseconds (the kernel's Documentation/scheduler/sched-stats.rst).
func (l *fullLine) coreWaits() (waited float64) {
	for _, thread := range l.threads() {
		raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/task/%d/schedstat", l.station, thread))
		if fields := strings.Fields(string(raw)); err == nil && len(fields) == 3 {
			ns, _ := strconv.ParseFloat(fields[1], 64)
			waited += ns / 1e9
		}
	}
	return waited
}

func medianOf(list []time.Duration) time.Duration {
	sorted := slices.Sorted(slices.Values(list))
	return sorted[len(sorted)/2]
}

// used is processor time in seconds, how long the station waited for a core, and how long it all took.
type used struct {
	station, jigs, waited float64
	took                  time.Duration
}

func (u *used) add(l *fullLine, do func()) {
	station, jigs := l.spent()
	waited, began := l.coreWaits(), time.Now()
	do()
	s, j := l.spent()
	u.took += time.Since(began)
	u.waited += l.coreWaits() - waited
	u.station += s - station
	u.jigs += j - jigs
}

// fullLine is a station in a process of its own, its jigs in theirs, and a screen at each lane.
type fullLine struct {
	testing.TB
	store   string
	address string
	token   string
	station int
	jigs    []int
	screens []*fullScreen
}

// fullProducts are tested beside one another.
var fullProducts = []string{"gcc-20", "vent-6", "bay-16", "loose-12", "console-104"}

func newFullLine(b *testing.B, jigs int) *fullLine {
	b.Helper()
	dir := b.TempDir()
	l := &fullLine{TB: b, store: filepath.Join(dir, "r.sqlite"), token: "a token of this benchmark"}
	l.people(l.store)
	args := []string{"station", "--store", l.store, "--lock", "0"}
	for n := range jigs {
		file := "../../testdata/products/" + fullProducts[n%len(fullProducts)] + ".yaml"
		p, err := product.Load(file)
		require.NoError(b, err)
		port := filepath.Join(dir, fmt.Sprint("jig", n))
		tell, pid := simulationProcess(b, "--product", file, "--link", port, "--serial", fmt.Sprintf("SIM-%04d", n+1), "--seed", fmt.Sprint(1+n*100000))
		l.jigs = append(l.jigs, pid)
		args = append(args, "--jig", port, "--product", file)
		l.screens = append(l.screens, &fullScreen{line: l, lane: n + 1, product: p, tell: tell})
	}
	free, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(b, err)
	require.NoError(b, free.Close())
	l.begin(append(args, "--listen", free.Addr().String()))
	for _, s := range l.screens {
		s.open()
	}
	return l
}

func (l *fullLine) people(path string) {
	s, err := results.OpenWith(l.Context(), path, store.Real())
	require.NoError(l, err)
	name := names[account.Operator]
	require.NoError(l, s.Accounts.SaveAccountEvent(l.Context(), accounts.AccountEvent{
		Name: name, By: "test", Kind: accounts.AccountRole, Role: string(account.Operator),
	}))
	require.NoError(l, s.Accounts.StartSession(l.Context(), sha256.Sum256([]byte(l.token)), name, "badge"))
	require.NoError(l, s.Close())
}

func (l *fullLine) begin(args []string) {
	cmd := exec.Command("padjig", args...)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	require.NoError(l, err)
	require.NoError(l, cmd.Start())
	l.station = cmd.Process.Pid
	l.Cleanup(func() {
		_ = cmd.Process.Signal(os.Interrupt)
		_ = cmd.Wait()
	})
	said := bufio.NewScanner(out)
	for said.Scan() {
		if _, at, is := strings.Cut(said.Text(), "station at "); is {
			l.address = strings.TrimSuffix(at, "/")
			return
		}
	}
	l.Fatal("the station never began")
}

// spent is the processor time so far, of the station and of all its jigs.
func (l *fullLine) spent() (station, jigs float64) {
	for _, pid := range l.jigs {
		jigs += processorSeconds(l, pid)
	}
	return processorSeconds(l, l.station), jigs
}

// processorSeconds are those of a process: fields 14 and 15 of its stat file, in hundredths (proc(5), USER_HZ).
func processorSeconds(t testing.TB, pid int) float64 {
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	require.NoError(t, err)
	fields := strings.Fields(string(raw[strings.LastIndexByte(string(raw), ')')+1:]))
	user, _ := strconv.Atoi(fields[11])
	system, _ := strconv.Atoi(fields[12])
	return float64(user+system) / 100
}

// resident are the bytes of the station in memory.
func (l *fullLine) resident(t testing.TB) int64 {
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/statm", l.station))
	require.NoError(t, err)
	pages, err := strconv.ParseInt(strings.Fields(string(raw))[1], 10, 64)
	require.NoError(t, err)
	return pages * int64(os.Getpagesize())
}

func (l *fullLine) ask(method, path, body string) *http.Response {
	r, err := http.NewRequestWithContext(l.Context(), method, l.address+path, strings.NewReader(body))
	require.NoError(l, err)
	r.AddCookie(&http.Cookie{Name: "padjig", Value: l.token})
	if body != "" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Accept", "application/json")
	}
	answer, err := http.DefaultClient.Do(r)
	require.NoError(l, err)
	return answer
}

// fullScreen is a person at a lane, who changes units and scans.
type fullScreen struct {
	line       *fullLine
	lane, unit int
	product    *product.Product
	form       string // token of its forms
	tell       func(string)
	shows      chan string // what the lane's page is, each time that it changes
	serial     string      // in hand

	alone, together, ahead cycles
}

// cycles are units and how long each took.
type cycles struct {
	units []string
	took  []time.Duration
}

func (s *fullScreen) into(t testing.TB, c *cycles) {
	took := s.test(t)
	c.units, c.took = append(c.units, s.serial), append(c.took, took)
}

func (s *fullScreen) open() {
	l := s.line
	page := l.ask("GET", fmt.Sprintf("/lane/%d", s.lane), "")
	var text strings.Builder
	_, err := bufio.NewReader(page.Body).WriteTo(&text)
	require.NoError(l, err)
	require.NoError(l, page.Body.Close())
	s.form = (&crawler{TB: l}).formToken(text.String())
	stream := l.ask("GET", fmt.Sprintf("/lane/%d/live?screen=s%d", s.lane, s.lane), "")
	s.shows = make(chan string, 100)
	over := make(chan struct{})
	go func() {
		defer close(over)
		lines := bufio.NewScanner(stream.Body)
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			var data struct{ HTML string }
			if text, is := strings.CutPrefix(lines.Text(), "data: "); is && json.Unmarshal([]byte(text), &data) == nil && data.HTML != "" {
				s.shows <- data.HTML
			}
		}
		close(s.shows)
	}()
	l.Cleanup(func() { _ = stream.Body.Close(); <-over })
	for html := range s.shows {
		if strings.Contains(html, fmt.Sprintf("SIM-%04d", s.lane)) {
			return
		}
	}
}

// test has another unit put in, scans it, and gives how long it took until its pass was shown.
func (s *fullScreen) test(t testing.TB) time.Duration {
	l := s.line
	s.tell("unit")
	s.unit++
	s.serial = s.product.Serial.Complete(s.lane*500 + s.unit)
	serial := s.serial
	form := url.Values{"token": {s.form}, "text": {serial}, "lane": {fmt.Sprint(s.lane)}, "screen": {fmt.Sprint("s", s.lane)}}
	began := time.Now()
	answer := l.ask("POST", "/scan", form.Encode())
	assert.Equal(t, http.StatusOK, answer.StatusCode)
	_ = answer.Body.Close()
	for html := range s.shows {
		switch {
		case !strings.Contains(html, `data-serial="`+serial+`"`):
		case strings.Contains(html, `data-phase="ended"`):
			took := time.Since(began)
			assert.Contains(t, html, `data-signal="pass"`)
			return took
		case strings.Contains(html, `data-phase="refused"`):
			t.Errorf("unit %s at lane %d is refused", serial, s.lane)
			return time.Since(began)
		}
	}
	t.Errorf("lane %d shows nothing more", s.lane)
	return time.Since(began)
}
