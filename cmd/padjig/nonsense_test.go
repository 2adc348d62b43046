package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/fails"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// babble is nonsense in the place of every text of the catalogue of facts.
func babble() wording.Words {
	babbled := wording.Catalogue{}
	for lang, text := range wording.Facts() {
		babbled[lang] = map[string]string{}
		for key := range text {
			babbled[lang][key] = fmt.Sprintf(" blah %d pass; gone when blah", len(babbled[lang]))
		}
	}
	return babbled.In("en")
}

// facts is what the program has concluded: exit statuses, and what it stored, the words
// for people among it, and what is likely wrong by that.
type facts struct {
	Statuses []int
	Runs     []fact
}

type fact struct {
	Outcome  sequence.Outcome
	Why      sequence.Said
	Reason   string
	Verdicts []sequence.Verdict
	Findings []found
	Causes   []cause
	Check    diagnose.Action
}

type cause struct {
	Kind  diagnose.Kind
	Place diagnose.Code
}

// causes are all that were found.
func (f facts) causes() (all []cause) {
	for _, r := range f.Runs {
		all = append(all, r.Causes...)
	}
	return all
}

type found struct {
	What, Key, Place string
	At               sequence.Said
	How              []sequence.Said
}

// conclude tests units with faults by the program itself, some of them twice, and
// diagnoses those it can. The program speaks in these words.
func conclude(t *testing.T, words wording.Words) (all facts, said string) {
	t.Helper()
	store := filepath.Join(t.TempDir(), "records.sqlite")
	var out bytes.Buffer
	do := func(args ...string) {
		all.Statuses = append(all.Statuses, run(t.Context(), args, strings.NewReader(""), voice{Writer: &out, Words: words}, voice{Writer: &out, Words: words}))
	}
	p, err := product.Load(gcc)
	require.NoError(t, err)
	var serials []string
	for i, fault := range []string{
		"", "key 7 open", "key 7 high 640 ohm", "line R3 broken between 7 and 8", "lines R3 C1 leak 800 kohm", "tail reversed",
		"channel 4 dirty open", "jig opens interlock at key 7", "jig emergency at key 7", "jig reference 2 drifted 5 %",
	} {
		serial := p.Serial.Complete(i + 1)
		serials = append(serials, serial)
		jig := simulateHere(t, fault)
		test := []string{"test", "--product", gcc, "--jig", jig, "--serial", serial, "--store", store}
		do(test...)
		do(test...) // passed already, its second attempt, or again
		do(test...) // passed already, attempts used up, or again
		do(append(test, "--press", "electrical")...)
		do("unit", serial, "--store", store)
		do("diagnose", serial, "--store", store)
		for _, tag := range openTags(t, store) { // then the next one is tested
			do("unit", "place", fails.Place{}.Code(), tag, "--operator", "Jon", "--store", store)
		}
	}
	do("test", "--product", gcc, "--jig", "none/jig0", "--serial", "GCC-000001-4", "--store", store)
	s, err := results.Open(t.Context(), store)
	require.NoError(t, err)
	defer s.Close()
	for _, serial := range serials {
		runs, err := s.Runs.Unit(t.Context(), serial)
		require.NoError(t, err)
		for _, r := range runs {
			d, err := evidence.Diagnose(r.Run, p)
			require.NoError(t, err)
			all.Runs = append(all.Runs, factOfRun(r.Run, d))
		}
	}
	return all, out.String()
}

// openTags are the codes of the tags that are owed on simulated jigs.
func openTags(t *testing.T, path string) (codes []string) {
	t.Helper()
	s, err := results.OpenReadOnly(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	owed, err := s.Fails.Open(t.Context(), true)
	require.NoError(t, err)
	for _, o := range owed {
		codes = append(codes, fails.TagCode(o.Run))
	}
	return codes
}

// simulateHere runs a simulated jig in this process until the test ends, and gives the
// path of its port.
func simulateHere(t *testing.T, fault string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "jig0")
	args := []string{"jig", "simulate", "--product", gcc, "--link", path, "--pace=false", "--control"}
	if fault != "" {
		args = append(args, "--fault", fault)
	}
	stdin, input := io.Pipe()
	output, stdout := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		ended <- run(context.WithoutCancel(t.Context()), args, stdin, stdout, io.Discard)
		stdout.Close()
	}()
	t.Cleanup(func() {
		input.Close()
		assert.Equal(t, statusOK, <-ended)
	})
	lines := bufio.NewScanner(output)
	require.True(t, lines.Scan(), "the jig is ready")
	go func() { _, _ = io.Copy(io.Discard, output) }()
	return path
}

func factOfRun(r sequence.Run, d diagnose.Diagnosis) fact {
	f := fact{Outcome: r.Outcome, Why: r.Why, Reason: r.Reason}
	for _, g := range d.Groups {
		for _, c := range g.Causes {
			f.Causes = append(f.Causes, cause{c.Kind, c.Place.Code})
		}
	}
	if d.Check != nil {
		f.Check = d.Check.Action
	}
	if r.Why.Code == sequence.JigMisreads || r.Why.Code == sequence.JigFailed {
		f.Why.Args, f.Reason = nil, "" // a reading is another each time
	}
	for _, k := range r.Keys {
		if r.Outcome == sequence.Aborted {
			break // how far it came is another each time
		}
		f.Verdicts = append(f.Verdicts, k.Verdict)
	}
	for _, x := range r.Findings {
		f.Findings = append(f.Findings, found{x.What, x.Key, x.Place, x.At, x.How})
	}
	return f
}

// With every text of the catalogue nonsense, each exit status, verdict and diagnosis
// stays as it was, and so does all that is stored.
func TestNonsenseChangesNothingButWords(t *testing.T) {
	want, said := conclude(t, wording.Words{})
	got, babbled := conclude(t, babble())
	assert.Equal(t, want, got)
	assert.NotContains(t, said, "blah")
	assert.Greater(t, strings.Count(babbled, "blah"), 400)
	named := 0
	for _, c := range want.causes() {
		if strings.Contains(said, string(c.Kind)) {
			named++
			assert.NotContains(t, babbled, string(c.Kind))
		}
	}
	assert.Greater(t, named, 10)
	statuses := map[int]bool{}
	for _, s := range want.Statuses {
		statuses[s] = true
	}
	assert.Equal(t, map[int]bool{statusOK: true, statusFail: true, statusWrong: true, statusNotMeasured: true}, statuses)
	assert.Greater(t, len(want.Runs), 20)
}
