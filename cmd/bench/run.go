package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// measured is what a benchmark printed, or why it did not.
type measured struct {
	subs []sub
	not  string // why it was not run
	err  error  // what went wrong in it
}

// sub is one sub-benchmark, or the benchmark itself with an empty name.
type sub struct {
	name    string
	metrics map[string]float64
}

// runner runs benchmarks, each once, one after another, and builds the tests of each package once.
type runner struct {
	store string // the one that make line makes, empty: there is none
	dir   string // of what is built
	built map[string]error
	done  map[*benchmark]measured
}

func newRunner(store string) (*runner, error) {
	dir, err := os.MkdirTemp("", "padjig-bench")
	if err == nil && store != "" {
		store, err = filepath.Abs(store)
	}
	return &runner{store: store, dir: dir, built: map[string]error{}, done: map[*benchmark]measured{}}, err
}

func (r *runner) close() { _ = os.RemoveAll(r.dir) }

// missingStore is what the page says in the place of what needs the store that make line makes.
const missingStore = "make line first"

func (r *runner) measured(ctx context.Context, b *benchmark) measured {
	if m, is := r.done[b]; is {
		return m
	}
	var m measured
	switch {
	case b.line && r.store == "":
		m.not = missingStore
	default:
		m.subs, m.err = r.run(ctx, b)
	}
	if m.err != nil {
		fmt.Fprintf(os.Stderr, "bench: %s in %s: %v\n", b.name, b.folder, m.err)
	}
	r.done[b] = m
	return m
}

func (r *runner) run(ctx context.Context, b *benchmark) ([]sub, error) {
	program := r.program(b.folder)
	if _, is := r.built[b.folder]; !is {
		fmt.Fprintf(os.Stderr, "bench: building the tests of %s\n", b.folder)
		build := exec.CommandContext(ctx, "go", "test", "-c", "-o", program, "./"+b.folder)
		build.Stderr = os.Stderr
		r.built[b.folder] = build.Run()
	}
	if err := r.built[b.folder]; err != nil {
		return nil, fmt.Errorf("go test -c: %w", err)
	}
	began := time.Now()
	fmt.Fprintf(os.Stderr, "bench: %s in %s ", b.name, b.folder)
	cmd := exec.CommandContext(ctx, program, b.arguments(r.store)...)
	cmd.Dir = b.folder
	var said strings.Builder
	cmd.Stdout, cmd.Stderr = &said, &said
	err := cmd.Run()
	fmt.Fprintf(os.Stderr, "took %s\n", time.Since(began).Round(time.Second))
	subs := parse(strings.NewReader(said.String()), b.name)
	if err == nil && len(subs) == 0 {
		err = errors.New("it gave no figures")
	}
	if err != nil {
		lines := strings.Split(said.String(), "\n")
		const most = 60 // a station that is measured logs a great deal
		fmt.Fprintln(os.Stderr, strings.Join(lines[max(0, len(lines)-most):], "\n"))
	}
	return subs, err
}

// program is where the tests of a package are built.
func (r *runner) program(folder string) string {
	return filepath.Join(r.dir, strings.ReplaceAll(folder, "/", "_")+".test")
}

// arguments are those of the built tests.
func (b *benchmark) arguments(store string) []string {
	pattern := "^" + b.name + "$"
	if b.pick != "" {
		pattern += "/" + b.pick
	}
	args := []string{"-test.run", "^$", "-test.bench", pattern, "-test.benchtime", b.times, "-test.timeout", "1h"}
	if b.line {
		args = append(args, "-line", store)
	}
	return append(args, b.flags...)
}

// processors is what stands behind the name of a benchmark.
var processors = regexp.MustCompile(`-\d+$`)

// parse reads what benchmarks print (golang.org/design/14313-benchmark-format): name, iterations, and figures with their
// units. What the program under test prints may stand between a name and its figures.
func parse(r io.Reader, benchmark string) (all []sub) {
	name := ""
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		fields := strings.Fields(lines.Text())
		if len(fields) > 0 && strings.HasPrefix(fields[0], benchmark) {
			name, _ = strings.CutPrefix(processors.ReplaceAllString(fields[0], ""), benchmark)
			fields = fields[1:]
		}
		if metrics := figures(fields); metrics != nil {
			all = append(all, sub{strings.TrimPrefix(name, "/"), metrics})
		}
	}
	return all
}

// figures reads iterations and figures with their units; nil where it is not these.
func figures(fields []string) map[string]float64 {
	if len(fields) < 3 || len(fields)%2 == 0 {
		return nil
	}
	if _, err := strconv.Atoi(fields[0]); err != nil {
		return nil
	}
	metrics := map[string]float64{}
	for i := 1; i < len(fields); i += 2 {
		v, err := strconv.ParseFloat(fields[i], 64)
		if err != nil {
			return nil
		}
		metrics[fields[i+1]] = v
	}
	return metrics
}
