package settings

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/command"
)

// tree is a program with a line, the list of its jigs, and a deed in somebody's name; each says what its flags are.
func tree() *cobra.Command {
	root := &cobra.Command{Use: "padjig", SilenceErrors: true, SilenceUsage: true}
	say := func(cmd *cobra.Command, _ []string) error {
		var all []string
		for _, flag := range names(cmd) {
			all = append(all, flag+"="+cmd.Flag(flag).Value.String())
		}
		_, err := fmt.Fprintln(cmd.OutOrStdout(), strings.Join(all, " "))
		return err
	}
	line := &cobra.Command{Use: "line", RunE: say}
	f := line.Flags()
	f.StringArray("jig", nil, "`PORT`")
	f.StringSlice("shifts", nil, "`TIMES`")
	f.Duration("lock", time.Minute, "")
	f.Bool("tower", true, "")
	f.Int("baud", 115200, "")
	f.String("plug", "", "")
	f.String("box", "", "`FILE`")
	f.String("store", "", "`FILE`")
	line.MarkFlagsMutuallyExclusive("plug", "box")
	command.Must(line.MarkFlagRequired("jig"))
	list := &cobra.Command{Use: "list", RunE: say}
	list.Flags().Int("baud", 115200, "")
	line.AddCommand(list)
	deed := &cobra.Command{Use: "rework", RunE: say}
	deed.Flags().String("serial", "", "")
	deed.Flags().String("did", "", "")
	deed.Flags().String("store", "", "`FILE`")
	command.SignInFlag(deed)
	root.AddCommand(line, deed)
	Adopt(root, tree)
	return root
}

func run(t *testing.T, args ...string) (out, complaint string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	root := tree()
	root.SetArgs(args)
	root.SetOut(&stdout)
	root.SetErr(&stderr)
	cmd, err := root.ExecuteContextC(t.Context())
	command.Complain(&stderr, cmd, err)
	return strings.TrimSpace(stdout.String()), stderr.String()
}

// written puts a file of settings where PADJIG_CONFIG names it.
func written(t *testing.T, text string) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "padjig.yaml")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	t.Setenv("PADJIG_CONFIG", path)
	return path
}

const usual = "baud=115200 box= jig=[] lock=1m0s plug= shifts=[] store= tower=true"

// File, environment, flag: what is said nearer wins, flag by flag, and a list of one is never mixed with that of another.
func TestFileThenEnvironmentThenFlag(t *testing.T) {
	written(t, `# a comment
every command:
  store: /all.sqlite
  baud: 9600
line:
  jig: [J-1, "J,2"]
  shifts: 06:00,14:00
  lock: 5m
  tower: false
  box: /box.yaml
line list:
  baud: 57600
rework: # with nothing in it
`)
	out, _ := run(t, "line")
	assert.Equal(t, `baud=9600 box=/box.yaml jig=[J-1,"J,2"] lock=5m0s plug= shifts=[06:00,14:00] store=/all.sqlite tower=false`, out,
		"a flag that has to be given is given")
	out, _ = run(t, "line", "list")
	assert.Equal(t, "baud=57600", out, "its own before what all share")
	t.Setenv("PADJIG_LINE_JIG", "J-3,J-4")
	t.Setenv("PADJIG_BAUD", "300")
	t.Setenv("PADJIG_LINE_LOCK", "")
	t.Setenv("PADJIG_LINE_SHIFTS", "22:00")
	out, _ = run(t, "line", "--jig", "J-9", "--tower")
	assert.Equal(t, "baud=300 box=/box.yaml jig=[J-9] lock=5m0s plug= shifts=[22:00] store=/all.sqlite tower=true", out)
	out, _ = run(t, "line")
	assert.Contains(t, out, "jig=[J-3,J-4]")
	out, _ = run(t, "line", "list")
	assert.Equal(t, "baud=300", out)
	t.Setenv("PADJIG_LINE_LIST_BAUD", "1200")
	out, _ = run(t, "line", "list")
	assert.Equal(t, "baud=1200", out)
}

// Of two flags that keep each other out the one that was said nearer wins over the one that was written farther.
func TestWhatKeepsOutIsKeptOut(t *testing.T) {
	written(t, "line: {jig: J-1, box: /box.yaml}")
	out, wrong := run(t, "line", "--plug", "P")
	assert.Contains(t, out, "box= jig=[J-1] lock=1m0s plug=P", wrong)
	t.Setenv("PADJIG_LINE_PLUG", "Q")
	out, wrong = run(t, "line")
	assert.Contains(t, out, "box= jig=[J-1] lock=1m0s plug=Q", wrong)
	out, wrong = run(t, "line", "--box", "here.yaml")
	assert.Contains(t, out, "box=here.yaml jig=[J-1] lock=1m0s plug= ", wrong)
	require.NoError(t, os.Unsetenv("PADJIG_LINE_PLUG"))
	path := written(t, "line: {jig: J-1, box: /box.yaml, plug: P}")
	out, wrong = run(t, "line")
	assert.Empty(t, out)
	assert.Contains(t, wrong, "--box and --plug do not go together")
	assert.Contains(t, wrong, "--plug at "+path+":1:40", "nobody chooses for whoever wrote both")
	out, _ = run(t, "line", "--plug", "Q")
	assert.Contains(t, out, "box= jig=[J-1] lock=1m0s plug=Q")
}

// Every mistake is named at its place, all of them at once.
func TestMistakesInTheFile(t *testing.T) {
	for text, want := range map[string][]string{
		"lime: {jig: J-1}":                        {`1:1: unknown field "lime" in the settings; did you mean "line"?`},
		"line: {jgi: J-1, lokc: 3}":               {`1:8: unknown field "jgi" in line; did you mean "jig"?`, `1:18: unknown field "lokc" in line; did you mean "lock"?`},
		"line:\n  lock: soon\n  tower: no":        {`2:9: lock cannot be "soon"; write a time with its unit, such as 10m or 1h30m`, `3:10: tower cannot be "no"; write true or false`},
		"line: {baud: fast}":                      {`1:14: baud cannot be "fast"; write a number`},
		"line: {plug: [a, b]}":                    {`1:14: "plug" takes one value, not a list`},
		"line: {jig: {a: b}}":                     {`1:13: "jig" takes one value, not a list`},
		"line: {jig: [a, [b]]}":                   {`1:17: jig must be plain text, not a list or a set of fields`},
		"line: {plug: }":                          {`1:14: plug is empty; write a value, in quotes if it begins with #, or take the field out`},
		"line: {jig: a, jig: b}":                  {`1:16: "jig" stands twice in line (first on line 1); keep one of them`},
		"line: {jig: a}\nline: {baud: 3}":         {`2:1: "line" stands twice in the settings (first on line 1); keep one of them`},
		"line: {box: box.yaml}":                   {`1:13: box "box.yaml" depends on where padjig is started; write it from the root, such as "/etc/padjig/box.yaml"`},
		"every command: {jig: a, operator: Ines}": {`1:17: unknown field "jig" in every command`, `1:25: unknown field "operator" in every command`},
		"- line":                                   {`1:1: the settings must be a set of fields`},
		"line: &a {jig: b}":                        {`1:7: anchors (&) and aliases (*) are not used in settings`},
		"line: {jig: 'a":                           {`1:15: not YAML`},
		"line: {config: /other.yaml}":              {`1:8: unknown field "config" in line`},
		"rework: {serial: X}":                      {`1:10: "serial" says something of one time only and is no setting; say it each time: padjig rework --serial`},
		"rework: {sign-in: /root/badge, did: all}": {`1:10: "sign-in" says`, `1:32: "did" says something of one time only`},
		"line: {jig: a}\n---\nline: {jig: b}":      {`2:1: a second document begins here`},
		"\xff\xfel\x00i\x00n\x00e\x00":             {"1:1: not UTF-8 text; save the file as UTF-8"},
		"l\x00i\x00n\x00e\x00":                     {"1:1: not UTF-8 text; save the file as UTF-8"},
		"line: {plug: \xe4}":                       {"1:14: not UTF-8 text"},
		strings.Repeat("#", largestFile+1):         {"1:1: this is larger than 64 KiB, which no settings need"},
		"line: {jig: \"a\\u0007\"}":                {`1:13: jig holds the control character U+0007; delete it`},
	} {
		path := written(t, text)
		_, wrong := run(t, "settings")
		lines := strings.Split(strings.TrimSpace(wrong), "\n")
		if assert.Len(t, lines, len(want)+2, "%s: %s", text[:min(len(text), 60)], wrong) {
			for i, one := range want {
				assert.True(t, strings.HasPrefix(lines[i], path+":"+one), "%q is not %q", lines[i], one)
			}
			assert.Equal(t, "  try: correct what is named above, then: padjig settings", lines[len(want)+1])
		}
	}
}

// A mistake in the section of one command does not stop another, and nothing runs by half a section of its own.
func TestMistakesOfOthersStopNobody(t *testing.T) {
	written(t, "line: {jig: J-1, lock: soon}\nline list: {baud: 300}")
	out, _ := run(t, "line", "list")
	assert.Equal(t, "baud=300", out)
	out, wrong := run(t, "line", "--lock", "3m")
	assert.Empty(t, out)
	assert.Contains(t, wrong, `lock cannot be "soon"`)
	written(t, "lien: {jig: J-1}") // which may be anybody's
	out, _ = run(t, "line", "list")
	assert.Empty(t, out)
}

// A file that is named has to be there, and to be one that not everybody can write.
func TestFilesThatAreNotTaken(t *testing.T) {
	dir := t.TempDir()
	open := filepath.Join(dir, "open.yaml")
	require.NoError(t, os.WriteFile(open, []byte("line: {jig: J-1}"), 0o644))
	require.NoError(t, os.Chmod(open, 0o646))
	large := filepath.Join(dir, "large.yaml")
	require.NoError(t, os.WriteFile(large, nil, 0o644))
	require.NoError(t, os.Truncate(large, 50<<20))
	for path, want := range map[string]string{
		open:                             "anybody may write to it",
		dir:                              "it is a folder",
		filepath.Join(dir, "no"):         "no such file",
		filepath.Join(open, "below.yml"): "on the way there a file stands where a folder is needed",
		large:                            "larger than 64 KiB",
	} {
		out, wrong := run(t, "line", "--jig", "J-1", "--config", path)
		assert.Empty(t, out)
		assert.Contains(t, wrong, want)
		t.Setenv("PADJIG_CONFIG", path)
		out, wrong = run(t, "line", "--jig", "J-1")
		assert.Empty(t, out)
		assert.Contains(t, wrong, want)
	}
	out, wrong := run(t, "line", "--jig", "J-1", "--config", os.DevNull)
	assert.Equal(t, strings.Replace(usual, "[]", "[J-1]", 1), out, wrong)
}

// A variable that is none is told: what was meant would not be set.
func TestVariablesThatAreNone(t *testing.T) {
	written(t, "")
	for variable, want := range map[string]string{
		"PADJIG_LINE_JGI=J-1":   `PADJIG_LINE_JGI is no setting; did you mean "PADJIG_LINE_JIG"?`,
		"PADJIG_LINE_LOCK=soon": `PADJIG_LINE_LOCK: lock cannot be "soon"`,
		"PADJIG_CONFG=/x":       `PADJIG_CONFG is no setting; did you mean "PADJIG_CONFIG"?`,
		"PADJIG_STORES=/x":      `PADJIG_STORES is no setting; did you mean "PADJIG_STORE"?`,
	} {
		t.Run(variable, func(t *testing.T) {
			name, value, _ := strings.Cut(variable, "=")
			t.Setenv(name, value)
			out, wrong := run(t, "line", "--jig", "J-1")
			assert.Empty(t, out)
			assert.Contains(t, wrong, want)
		})
	}
	t.Setenv("PADJIG_REWORK_SERIAL", "GCC-000001-3")
	_, wrong := run(t, "rework")
	assert.Contains(t, wrong, "PADJIG_REWORK_SERIAL: --serial says something of one time only")
	t.Setenv("PADJIG_PORTS", "/dev/pts/*") // which is another thing
	out, wrong := run(t, "line", "--jig", "J-1")
	assert.NotEmpty(t, out, wrong)
}

// Where a value was set stands beside what a command refuses.
func TestWhereAWrongValueWasSet(t *testing.T) {
	path := written(t, "line: {jig: J-1, plug: P}")
	t.Setenv("PADJIG_BAUD", "300")
	root := tree()
	line, _, err := root.Find([]string{"line"})
	require.NoError(t, err)
	line.RunE = func(*cobra.Command, []string) error { return command.WrongUsef("no such plug") }
	var stderr bytes.Buffer
	root.SetArgs([]string{"line", "--jig", "J-2"})
	cmd, err := root.ExecuteC()
	assert.Equal(t, command.Wrong, command.Complain(&stderr, cmd, err))
	assert.Equal(t, "padjig: no such plug\n  try: padjig line --help\n  set: --baud at PADJIG_BAUD, --plug at "+path+":1:24\n", stderr.String())
}
