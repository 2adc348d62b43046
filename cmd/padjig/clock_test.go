package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// oneClock is the script of the clock: the plant is fourteen hours before UTC, and the computer
// three and a half behind.
const oneClock = "testdata/script/one_clock.txtar"

// printed are the times that people read: a day, with the time of day or without.
var printed = regexp.MustCompile(`\b(\d{4}-\d\d-\d\d)(?: (\d\d:\d\d))?\b|\b(\d\d:\d\d):\d\d\b`)

// clock sees that the last command, which printed to stdout or stderr, said times, and each of
// them by the clock of the plant: none that is now is by that of the computer, or of UTC.
func clock(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: clock stdout|stderr|FILE")
	}
	zones := map[string]*time.Location{"the plant": nil, "the computer": nil}
	for who, name := range map[string]string{"the plant": ts.Getenv("PLANT"), "the computer": ts.Getenv("TZ")} {
		zone, err := time.LoadLocation(name)
		ts.Check(err)
		zones[who] = zone
	}
	zones["UTC"] = time.UTC
	text, now, right := ts.ReadFile(args[0]), time.Now(), 0
	for _, m := range printed.FindAllStringSubmatch(text, -1) {
		for who, zone := range zones {
			if !saysNow(m, now.In(zone)) {
				continue
			}
			if who == "the plant" {
				right++
			} else if !saysNow(m, now.In(zones["the plant"])) {
				ts.Fatalf("%q is the time of %s:\n%s", m[0], who, text)
			}
		}
	}
	if right == 0 {
		ts.Fatalf("no time of the plant is in it:\n%s", text)
	}
}

// saysNow reports whether what is printed is now or was in the last hour by a clock.
func saysNow(printed []string, now time.Time) bool {
	day, minute := printed[1], printed[2]
	if day == "" {
		day, minute = now.Format(time.DateOnly), printed[3]
	}
	if minute == "" {
		return day == now.Format(time.DateOnly)
	}
	at, err := time.ParseInLocation("2006-01-02 15:04", day+" "+minute, now.Location())
	return err == nil && at.Sub(now).Abs() < time.Hour
}

// Every command is in that script, or says no time of what is in the records.
func TestEveryCommandIsAskedForTheTime(t *testing.T) {
	raw, err := os.ReadFile(oneClock)
	require.NoError(t, err)
	script := string(raw)
	var visit func(*cobra.Command)
	visit = func(cmd *cobra.Command) {
		for _, sub := range cmd.Commands() {
			visit(sub)
		}
		if !cmd.Runnable() || cmd.HasSubCommands() && cmd.Name() != "unit" && cmd.Name() != "station" || cmd.Name() == "help" ||
			strings.HasPrefix(cmd.CommandPath(), "padjig completion") {
			return
		}
		assert.Contains(t, script, cmd.CommandPath(), "%s is not there", cmd.CommandPath())
	}
	visit(newRoot())
}
