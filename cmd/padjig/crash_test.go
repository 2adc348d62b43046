package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/fails"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

var (
	crashes   = flag.Int("crashes", 60, "how often padjig test is killed; 200 is the full number")
	crashSeed = flag.Uint64("crash-seed", 1, "of the moments")
)

const crashProduct = "../../testdata/products/gcc-20.yaml"

// TestKilledAtRandomMoments kills padjig test, with a signal it cannot catch,
// at random moments between its start and somewhat after its usual end. What
// it acknowledged on standard output must be in the store; no unit may stand
// there as passed without a complete record; the next start must be clean. And
// every unit that the jig moved for has either its run or a start that was not
// finished, whichever moment the kill came at.
func TestKilledAtRandomMoments(t *testing.T) {
	t.Parallel()
	p, err := product.Load(crashProduct)
	require.NoError(t, err)
	c := crash{t: t, product: p, jig: crashJig(t, p), store: filepath.Join(t.TempDir(), "records.sqlite")}
	t.Logf("%d kills, seed %d", *crashes, *crashSeed)
	rnd := rand.New(rand.NewPCG(*crashSeed, 0))

	usual := c.usualTime()
	var acknowledged, stored, moved, unfinished int
	var left string // a unit without its run
	for i := range *crashes {
		serial := p.Serial.Complete(1000 + i)
		before := c.presses()
		after, began := time.Duration(rnd.Float64()*1.2*float64(usual)), time.Now()
		said := c.kill(serial, after)
		switch { // how long a run takes changes with what else the machine does: the moments follow
		case said != nil:
			usual = time.Since(began)
		case after > usual:
			usual = after
		}
		runs, starts := c.recorded(serial)
		stored += len(runs)
		unfinished += len(starts)
		if len(starts) > 0 {
			left = serial
			c.stillIn(serial)
		}
		if c.presses() > before {
			moved++
			assert.Equal(t, 1, len(runs)+len(starts), "%s: the jig moved", serial)
		}
		assert.LessOrEqual(t, len(runs)+len(starts), 1, serial)
		if said == nil {
			continue
		}
		acknowledged++
		if assert.Len(t, runs, 1, "%s was acknowledged", serial) {
			assert.Equal(t, said.Run, runs[0].ID.String())
			assert.Equal(t, said.Verdict, string(runs[0].Outcome))
		}
	}
	if left == "" { // none of these moments lay between a start and its run: another is sought
		left = c.killedBetween(2000, usual)
		unfinished++
		c.stillIn(left)
	}
	t.Logf("%d of %d runs acknowledged, %d stored, %d moved, %d not finished, usual time %v",
		acknowledged, *crashes, stored, moved, unfinished, usual)
	assert.GreaterOrEqual(t, stored, acknowledged)
	assert.Positive(t, unfinished, "some kills came between start and run")
	assert.Less(t, acknowledged, *crashes, "some kills came in time")
	assert.Positive(t, acknowledged, "some kills came too late")
	assert.NotNil(t, c.kill(p.Serial.Complete(1), time.Minute), "a unit is tested as if nothing had happened")
	c.inItsLife(left)
	said := c.kill(left, time.Minute)
	require.NotNil(t, said, "and one that was not finished")
	assert.Equal(t, 2, said.Attempt)
}

// An electrical press that was killed stands in the unit's life and is no attempt,
// whichever moment the kill came at: the unit is tested as at first.
func TestKilledInAnElectricalPress(t *testing.T) {
	t.Parallel()
	p, err := product.Load(crashProduct)
	require.NoError(t, err)
	c := crash{t: t, product: p, jig: crashJig(t, p), store: filepath.Join(t.TempDir(), "records.sqlite"), how: string(sequence.Electrical)}
	left := c.killedBetween(1000, c.usualTime())
	got := runHere(t, "unit", left, "--store", c.store)
	assert.Contains(t, got.stdout, "NOT FINISHED SIMULATED")
	assert.Contains(t, got.stdout, "no attempt, jig SIM-0001, keys pressed electrically")
	c.how = string(sequence.Mechanical)
	said := c.kill(left, time.Minute)
	require.NotNil(t, said)
	assert.Equal(t, 1, said.Attempt)
}

// killedBetween kills tests of units from this number on until one is killed between its start and its run: later than
// one that had not begun, earlier than one that was stored, however long both take on this machine just now.
func (c *crash) killedBetween(from int, usual time.Duration) (serial string) {
	after, step, earlier := usual/2, usual/4, false
	for i := range 200 {
		serial := c.product.Serial.Complete(from + i)
		c.kill(serial, after)
		runs, starts := c.recorded(serial)
		if len(starts) > 0 {
			return serial
		}
		tooLate := len(runs) > 0
		if i > 0 && tooLate != earlier {
			step = max(step/2, time.Millisecond)
		} else {
			step += step / 4
		}
		if earlier = tooLate; earlier {
			after = max(after-step, time.Millisecond)
		} else {
			after += step
		}
	}
	require.Fail(c.t, "no kill came between start and run")
	return ""
}

// stillIn holds that a unit whose test was killed lies in the jig for the next process.
func (c *crash) stillIn(serial string) {
	before := c.presses()
	got := runHere(c.t, "test", "--product", crashProduct, "--jig", c.jig.port, "--serial", c.product.Serial.Complete(7), "--store", c.store)
	assert.Equal(c.t, 3, got.status)
	assert.Contains(c.t, got.stderr, "unit "+serial+" is still in jig SIM-0001")
	assert.Equal(c.t, before, c.presses())
}

// A process that was killed around its fail, or while place and tag were taken, leaves
// nothing half: where the fail is stored the next unit waits, until the placement is.
func TestKilledAfterAFail(t *testing.T) {
	t.Parallel()
	p, err := product.Load(crashProduct)
	require.NoError(t, err)
	c := crash{t: t, product: p, jig: crashJig(t, p), store: filepath.Join(t.TempDir(), "records.sqlite")}
	usual := c.usualTime()
	failed, placed := 0, 0
	for i := range 12 {
		serial, next := p.Serial.Complete(1000+2*i), p.Serial.Complete(1001+2*i)
		c.jig.put("key 7 open")
		c.kill(serial, time.Duration(0.5*float64(usual)+0.1*float64(i)*float64(usual)))
		runs, _ := c.recorded(serial)
		c.jig.put("")
		got := c.test(next)
		if len(runs) == 0 {
			assert.Equal(t, statusOK, got.status, "%s: nothing is stored, nothing is owed: %s", serial, got.stderr)
			continue
		}
		failed++
		require.Equal(t, statusNotMeasured, got.status, got.stderr)
		assert.Contains(t, got.stderr, "unit "+serial+" failed on jig SIM-0001")
		for done := false; !done; {
			placed++
			c.killPlacing(fails.TagCode(runs[0].ID), time.Duration(placed)*20*time.Millisecond)
			c.recorded(serial) // the store is sound
			done = c.test(next).status == statusOK
			list := runHere(t, "unit", serial, "--store", c.store).stdout
			assert.Equal(t, done, strings.Contains(list, "put into the fail place by Jon"), "one or the other: %s", list)
		}
	}
	assert.Positive(t, failed)
	assert.Positive(t, placed)
}

// test tests a unit to its end.
func (c *crash) test(serial string) result {
	return runHere(c.t, "test", "--product", crashProduct, "--jig", c.jig.port, "--serial", serial, "--store", c.store)
}

// killPlacing scans place and tag and kills the process after a while, if it still runs.
func (c *crash) killPlacing(tag string, after time.Duration) {
	ctx, cancel := context.WithTimeout(context.Background(), after)
	defer cancel()
	_ = exec.CommandContext(ctx, "padjig", "unit", "place", fails.Place{}.Code(), tag, "--operator", "Jon", "--store", c.store).Run()
}

// inItsLife holds that padjig unit shows what was not finished.
func (c *crash) inItsLife(serial string) {
	got := runHere(c.t, "unit", serial, "--store", c.store)
	assert.Zero(c.t, got.status, got.stderr)
	assert.Contains(c.t, got.stdout, "unit "+serial+", 0 runs")
	assert.Contains(c.t, got.stdout, "NOT FINISHED SIMULATED")
	assert.Contains(c.t, got.stdout, "attempt 1, jig SIM-0001")
	assert.Contains(c.t, got.stdout, "begun and never finished: what was found is not known")
	got = runHere(c.t, "unit", serial, "--store", c.store, "--json")
	assert.Contains(c.t, got.stdout, `"runs": []`)
	assert.Contains(c.t, got.stdout, `"in_hand": false`)
}

// crash is a store and a jig that outlive the processes that use them.
type crash struct {
	t       *testing.T
	product *product.Product
	jig     *testJig
	store   string
	how     string // keys are pressed
}

// crashJig is a simulated jig that takes no time. It lives in this process, which
// thereby sees what it moves.
func crashJig(t *testing.T, p *product.Product) *testJig {
	t.Helper()
	j := &testJig{TB: t, simulation: &simulation{Serial: "SIM-0001", Seed: 1}, product: p, port: filepath.Join(t.TempDir(), "jig")}
	var err error
	j.jig, err = j.Build(p)
	require.NoError(t, err)
	j.plug()
	t.Cleanup(func() { j.unplug() })
	return j
}

// presses is how often the jig pressed a key. A hello first ends what a killed
// process has left in its queue.
func (c *crash) presses() (all int) {
	c.t.Helper()
	jig, err := fixture.Open(c.t.Context(), c.jig.port, link.Options{})
	require.NoError(c.t, err)
	require.NoError(c.t, jig.Close())
	for _, n := range c.jig.jig.Counts().Presses {
		all += int(n)
	}
	return all
}

// usualTime is how long an undisturbed run takes here and now; the first one,
// which also makes the store, does not count.
func (c *crash) usualTime() time.Duration {
	require.NotNil(c.t, c.kill(c.product.Serial.Complete(2), time.Minute))
	began := time.Now()
	require.NotNil(c.t, c.kill(c.product.Serial.Complete(3), time.Minute))
	return time.Since(began)
}

// testedUnit is what padjig test says of a unit for certain.
type testedUnit struct {
	Run, Verdict string
	Attempt      int
}

// kill tests a unit and kills the process after a while, if it still runs. It
// returns what the process said for certain: a whole object on its output. Whoever
// scans the number has put the unit in.
func (c *crash) kill(serial string, after time.Duration) *testedUnit {
	c.jig.jig.Reseat()
	ctx, cancel := context.WithTimeout(context.Background(), after)
	defer cancel()
	cmd := exec.CommandContext(ctx, "padjig", "test", "--product", crashProduct,
		"--jig", c.jig.port, "--serial", serial, "--store", c.store, "--actuation", c.how, "--json")
	var output, trouble bytes.Buffer
	cmd.Stdout, cmd.Stderr = &output, &trouble
	err := cmd.Run()
	var said testedUnit
	if json.Unmarshal(output.Bytes(), &said) != nil {
		require.Error(c.t, ctx.Err(), "%s ended by itself: %v\n%s", serial, err, trouble.String())
		return nil
	}
	return &said
}

// recorded opens the store anew, which checks it, and gives the unit's runs and
// the starts that have none.
func (c *crash) recorded(serial string) ([]runs.Stored, []runs.Start) {
	ctx := context.Background()
	store, err := results.Open(ctx, c.store)
	require.NoError(c.t, err)
	defer store.Close()
	wrong, err := store.Check(ctx)
	require.NoError(c.t, err)
	require.Empty(c.t, wrong)
	runs, err := store.Runs.Unit(ctx, serial)
	require.NoError(c.t, err)
	for _, run := range runs {
		c.complete(run)
	}
	starts, err := store.Runs.Starts(ctx, serial)
	require.NoError(c.t, err)
	for _, start := range starts {
		require.False(c.t, start.InHand, "%s: its holder is dead", serial)
	}
	h, err := store.Runs.History(ctx, serial)
	require.NoError(c.t, err)
	next := len(runs) + len(starts) + 1
	if c.how == string(sequence.Electrical) {
		next = 1
	}
	require.Equal(c.t, next, h.Of(c.product.Code, true).Next(), "attempts of %s", serial)
	return runs, starts
}

// complete holds what a stored pass must have.
func (c *crash) complete(run runs.Stored) {
	if run.Outcome != sequence.Pass {
		return
	}
	require.Len(c.t, run.Keys, len(c.product.Keys))
	for _, k := range run.Keys {
		require.Equal(c.t, sequence.KeyPass, k.Verdict)
		require.NotNil(c.t, k.Closed)
	}
	for _, s := range run.Steps {
		require.True(c.t, s.Done, s.Name)
	}
}

// startSimulation runs padjig jig simulate as a process of its own until the
// test ends, and waits until it says that it is ready.
// What it gives tells the jig something, and waits until that is done.
func startSimulation(t testing.TB, flags ...string) (tell func(command string)) {
	t.Helper()
	tell, _ = simulationProcess(t, flags...)
	return tell
}

// simulationProcess is startSimulation, and says which process it is.
func simulationProcess(t testing.TB, flags ...string) (tell func(command string), pid int) {
	t.Helper()
	cmd := exec.Command("padjig", append([]string{"jig", "simulate", "--control"}, flags...)...)
	input, err := cmd.StdinPipe()
	require.NoError(t, err)
	output, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		input.Close()
		assert.NoError(t, cmd.Wait())
	})
	said := bufio.NewScanner(output)
	require.True(t, said.Scan(), "the simulated jig says that it is ready")
	return func(command string) {
		t.Helper()
		_, err := fmt.Fprintln(input, command)
		require.NoError(t, err)
		require.True(t, said.Scan(), "the simulated jig answers %q", command)
	}, cmd.Process.Pid
}
