//go:build cleanroot

package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	cleanRoot = flag.String("root", "", "archive of a clean Debian with systemd; make package-test makes one")
	tried     = flag.String("tried", "", "the program to be packed, built and stripped")
)

// house is a clean Debian that was booted for one test, by systemd as its process 1.
type house struct {
	*testing.T
	leader string
}

// sh runs a script in it as root, and gives what it said and its exit status.
func (h *house) sh(script string) (string, int) {
	h.Helper()
	ctx, cancel := context.WithTimeout(h.Context(), 2*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, "nsenter", "-t", h.leader, "-m", "-u", "-i", "-n", "-p", "-r", "-w", "env", "-i",
		"PATH=/usr/sbin:/usr/bin:/sbin:/bin", "DEBIAN_FRONTEND=noninteractive", "HOME=/root", "bash", "-c", "cd /root; "+script)
	out, _ := cmd.CombinedOutput()
	h.Logf("%s\n%s", script, out)
	return string(out), cmd.ProcessState.ExitCode()
}

// must likewise, and it has to go well.
func (h *house) must(script string) string {
	h.Helper()
	out, status := h.sh(script)
	require.Zero(h, status, "%s\n%s", script, out)
	return out
}

// web asks for one of the service's pages, or posts a form to it, as the same visitor each time.
func (h *house) web(path string, form ...string) string {
	h.Helper()
	jar := filepath.Join(os.TempDir(), "padjig-jar-"+h.leader)
	h.Cleanup(func() { _ = os.Remove(jar) })
	args := []string{"-t", h.leader, "-n", "curl", "-sS", "--fail", "-m", "20", "-b", jar, "-c", jar}
	for _, field := range form {
		args = append(args, "--data-urlencode", field)
	}
	out, err := exec.CommandContext(h.Context(), "nsenter", append(args, "http://127.0.0.1:8317"+path)...).CombinedOutput()
	require.NoError(h, err, string(out))
	return string(out)
}

// boot unpacks the archive with packages in it, and starts it.
func boot(t *testing.T, packages ...string) *house {
	t.Helper()
	require.Zero(t, os.Geteuid(), "a machine is booted by root alone: run it with sudo")
	root := filepath.Join(t.TempDir(), "root")
	require.NoError(t, os.Mkdir(root, 0o755))
	require.NoError(t, said(exec.CommandContext(t.Context(), "tar", "-C", root, "-xpf", *cleanRoot)))
	for _, p := range packages {
		text, err := os.ReadFile(p)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(root, "root", filepath.Base(p)), text, 0o644))
	}
	machine := exec.Command("systemd-nspawn", "-q", "--register=no", "--keep-unit", "-D", root, "--boot", "--private-network")
	var console bytes.Buffer
	machine.Stdout, machine.Stderr = &console, &console
	require.NoError(t, machine.Start())
	t.Cleanup(func() { _ = machine.Process.Signal(os.Interrupt); _ = machine.Process.Kill(); _ = machine.Wait() })
	t.Log("booted by systemd-nspawn")
	h := &house{T: t}
	up := time.Now().Add(time.Minute)
	for ; ; <-time.After(200 * time.Millisecond) { // nobody tells when a machine is up
		require.True(t, time.Now().Before(up), "the machine did not come up: %s", &console)
		children, err := os.ReadFile(fmt.Sprintf("/proc/%d/task/%[1]d/children", machine.Process.Pid))
		if fields := strings.Fields(string(children)); err == nil && len(fields) > 0 {
			h.leader = fields[0]
			if out, _ := h.sh("systemctl is-system-running"); strings.Contains(out, "running") || strings.Contains(out, "degraded") {
				return h
			}
		}
	}
}

// A package is installed on a clean machine by the script of the documentation, word for word, up to a first verdict;
// then as a service with a simulated jig, where a unit is tested through the page and a hang is ended by the watchdog; upgraded, refused as a downgrade, removed with its
// records kept, and purged with its records kept.
func TestFromPackageToPurge(t *testing.T) {
	require.NotEmpty(t, *cleanRoot, "-root is missing: make package-test gives it")
	require.NoError(t, os.Chdir("../.."))
	older, newer := packed(t, "1.0.0"), packed(t, "1.1.0")
	h := boot(t, older, newer)
	h.must("mkdir later && mv padjig_1.1.0_* later/")

	page, err := os.ReadFile("docs/install.md")
	require.NoError(t, err)
	script := regexp.MustCompile("(?s)```sh\n(.*?)```").FindSubmatch(page)
	require.NotNil(t, script)
	began := time.Now()
	told := h.must("set -e\n" + strings.ReplaceAll(string(script[1]), "apt-get install -y", "dpkg -i"))
	t.Logf("from the package to the first verdict: %.1f s", time.Since(began).Seconds())
	assert.Contains(t, told, "PASS")
	assert.Contains(t, told, "SIMULATED")
	assert.Contains(t, told, "not started: it does not know what to test yet")
	if out, _ := h.sh("systemctl is-enabled padjig"); assert.Contains(t, out, "disabled") {
		assert.NotContains(t, h.must("ls /etc/systemd/system/multi-user.target.wants"), "padjig")
	}

	h.must(`mkdir -p /etc/systemd/system/padjig.service.d; printf '[Service]\nWatchdogSec=3\n' > /etc/systemd/system/padjig.service.d/quick.conf
printf 'station:\n  product: /etc/padjig/gcc-20.yaml\n  jig: [/var/lib/padjig/jig0]\n' >> /etc/padjig/padjig.yaml
systemctl daemon-reload
systemd-run -q --uid=padjig padjig jig simulate --product /etc/padjig/gcc-20.yaml --link /var/lib/padjig/jig0
until [ -e /var/lib/padjig/jig0 ]; do sleep 0.1; done; systemctl start padjig`)
	assert.Contains(t, h.must("systemctl show padjig -p StatusText -p ActiveState"), "StatusText=1 lane, pages at http://127.0.0.1:8317/")
	assert.Contains(t, h.must("id -un $(systemctl show padjig -p MainPID --value) 2>/dev/null; "+
		"stat -c %U /proc/$(systemctl show padjig -p MainPID --value)"), "padjig")

	h.must(`printf 'pear tree in a glass house\n' | runuser -u padjig -- padjig station accounts add Ines --role engineer --store /var/lib/padjig/records.sqlite`)
	h.web("/door", "name=Ines", "password=pear tree in a glass house")
	token := regexp.MustCompile(`name="?token"? value="?([^" >]+)`).FindStringSubmatch(h.web("/lane/1"))
	require.NotNil(t, token, "the page lets nobody post who has not seen it")
	h.web("/scan", "token="+token[1], "text=GCC-000002-1", "lane=1", "screen=a", "next=/lane/1")
	h.must("until padjig unit GCC-000002-1 --store /var/lib/padjig/records.sqlite | grep PASS; do sleep 0.2; done")

	h.must(`before=$(systemctl show padjig -p MainPID --value); kill -STOP $before
until [ "$(systemctl show padjig -p NRestarts --value)" = 1 ] && systemctl is-active -q padjig; do sleep 0.2; done
journalctl -u padjig --no-pager | grep -i watchdog`)

	h.must("echo '# mine' >> /etc/padjig/padjig.yaml; dpkg -i later/padjig_1.1.0_*.deb; systemctl is-active padjig; tail -1 /etc/padjig/padjig.yaml | grep mine")
	assert.Contains(t, h.must("padjig unit GCC-000002-1 --store /var/lib/padjig/records.sqlite"), "PASS", "the records are kept")
	refused, status := h.sh("dpkg -i padjig_1.0.0_*.deb")
	assert.NotZero(t, status)
	assert.Contains(t, refused, "version 1.0.0 is older than 1.1.0")
	assert.Contains(t, h.must("dpkg -s padjig; systemctl is-active padjig"), "Version: 1.1.0")

	assert.Contains(t, h.must("dpkg -r padjig; ls /etc/padjig/padjig.yaml /var/lib/padjig/records.sqlite"), "the records stay: /var/lib/padjig")
	if out, status := h.sh("systemctl is-active padjig"); assert.NotZero(t, status, out) {
		h.must("dpkg -P padjig; [ ! -e /etc/padjig/padjig.yaml ]; ls /var/lib/padjig/records.sqlite")
	}
}

// packed is a package of the program under a version.
func packed(t *testing.T, version string) string {
	t.Helper()
	at := time.Date(2026, 11, 30, 4, 0, 0, 0, time.UTC)
	var same [2][]byte
	var path string
	for i := range same {
		r := release{program: *tried, version: version, date: at, out: t.TempDir()}
		var err error
		path, err = r.make(t.Context())
		require.NoError(t, err)
		same[i], err = os.ReadFile(path)
		require.NoError(t, err)
	}
	require.True(t, bytes.Equal(same[0], same[1]), "the same program gives the same package")
	return path
}
