// Bench measures padjig against what it could be at best, or what is used in its place, and writes one page of ratios.
//
// Each line is of a benchmark that stands in the tests of the package it is about, and takes pairs in turn, in one run (package
// ratio): what is on the page is in lines.go, how it is run in run.go, how it reads in figures.go. A line that was not measured
// stays on the page and says why.
//
//	go run ./cmd/bench -line /tmp/padjig-line
package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"regexp"
	"time"

	"padjig/results/report/machine"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context) error {
	folder := flag.String("line", "", "`FOLDER` where make line puts its store")
	file := flag.String("page", "docs/figures.md", "`FILE` whose measured part is written anew")
	only := flag.String("only", "", "measure only benchmarks whose name matches, and write nothing")
	flag.Parse()
	chosen, err := regexp.Compile(*only)
	if err != nil {
		return fmt.Errorf("-only: %w", err)
	}
	store := filepath.Join(*folder, "line.sqlite")
	for _, needed := range []string{store, filepath.Join(*folder, "line.parquet")} {
		if _, err := os.Stat(needed); *folder == "" || err != nil {
			store = ""
		}
	}
	r, err := newRunner(store)
	if err != nil {
		return err
	}
	defer r.close()
	began, before := time.Now(), machine.Here()
	var parts []part
	failed := 0
	for _, s := range page() {
		p := part{name: s.name}
		for _, l := range s.lines {
			if chosen.MatchString(l.of.name) {
				got := r.measured(ctx, l.of)
				if got.err != nil {
					failed++
				}
				p.rows = append(p.rows, rows(l, got)...)
			}
		}
		parts = append(parts, p)
	}
	if ctx.Err() != nil { // what was not measured then would stand there as if it could not be
		return ctx.Err()
	}
	when := fmt.Sprintf("%s, in %s, on %s; processors asked for by everything on it: %s in the minute before, %s in the last.",
		began.Format(time.DateOnly), time.Since(began).Round(time.Second), before, before.Load, machine.Here().Load)
	fmt.Print(text(when, parts))
	if *only == "" {
		err = rewrite(*file, markdown(when, parts))
	}
	if err == nil && failed > 0 {
		err = fmt.Errorf("%d lines were not measured, since their benchmark failed: see above", failed)
	}
	return err
}

// The measured part of the page stands between these.
const (
	begins = "<!-- figures: written by make bench -->\n"
	ends   = "<!-- end of figures -->"
)

// rewrite puts the measured part of a page in the place of the one before.
func rewrite(path, measured string) error {
	content, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	before, rest, begun := bytes.Cut(content, []byte(begins))
	_, after, ended := bytes.Cut(rest, []byte(ends))
	if !begun || !ended {
		return fmt.Errorf("%s has no place for figures, which is between %q and %q", path, begins, ends)
	}
	return os.WriteFile(path, bytes.Join([][]byte{before, []byte(begins + measured + ends), after}, nil), 0o644)
}
