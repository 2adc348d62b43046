package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"syscall"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The program as scripts and tests start it: like main, and whatever it prints
// with --json must be what the published schemas say. What is not makes the
// exit status 70, which no command has.
func mainChecked() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := runChecked(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}

func runChecked(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	if !slices.Contains(args, "--json") || slices.Contains(args, "show") && slices.Contains(args, "product") {
		return run(ctx, args, stdin, stdout, stderr) // a product is shown as its canonical definition
	}
	var said bytes.Buffer
	status := run(ctx, args, stdin, io.MultiWriter(stdout, &said), stderr)
	if err := asPublished(&said); err != nil {
		fmt.Fprintf(stderr, "%q printed what docs/schema does not say: %v\n", args, err)
		return 70
	}
	return status
}

// asPublished compares each object with the schema that it names.
func asPublished(said io.Reader) error {
	_, here, _, _ := runtime.Caller(0)
	folder := filepath.Join(filepath.Dir(here), "../../docs/schema")
	for d := json.NewDecoder(said); ; {
		var o map[string]any
		if err := d.Decode(&o); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		text, err := os.ReadFile(filepath.Join(folder, fmt.Sprint(o["schema"])+".json"))
		if err != nil {
			return err
		}
		var schema jsonschema.Schema
		if err := json.Unmarshal(text, &schema); err != nil {
			return err
		}
		resolved, err := schema.Resolve(nil)
		if err != nil {
			return err
		}
		if err := resolved.Validate(o); err != nil {
			return err
		}
	}
}

// The check of what is printed finds what is wrong with it.
func TestSchemasAreHeld(t *testing.T) {
	const good = `{"schema": "wear-1", "jig": "J-0042", "parts": [{"part": "probes", "uses": 7, "warn": null, "block": null,
		"replaced": "", "replaced_by": "", "uses_before": 0, "name": "", "lot": "", "tip": "", "serves": []}]}`
	require.NoError(t, asPublished(bytes.NewBufferString(good)))
	for name, change := range map[string][2]string{
		"another schema":          {`wear-1`, `unit-1`},
		"a schema of no page":     {`wear-1`, `wear-0`},
		"none":                    {`"schema": "wear-1",`, ``},
		"a member that is gone":   {`"uses": 7,`, ``},
		"a member of another":     {`"uses"`, `"presses"`},
		"a text for a number":     {`7`, `"7"`},
		"null in place of a list": {`[{"part": "probes", "uses": 7, "warn": null, "block": null,` + "\n\t\t" + `"replaced": "", "replaced_by": "", "uses_before": 0, "name": "", "lot": "", "tip": "", "serves": []}]`, `null`},
	} {
		require.Contains(t, good, change[0], name)
		assert.Error(t, asPublished(bytes.NewBufferString(string(bytes.Replace([]byte(good), []byte(change[0]), []byte(change[1]), 1)))), name)
	}
}
