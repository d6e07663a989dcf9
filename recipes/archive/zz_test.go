package archive
import ("testing";"database/sql";"path/filepath";"os";"os/exec")
func TestZZ(t *testing.T){
 path:=filepath.Join(t.TempDir(),"x.db")
 oldBench(t,path,3)
 for _, d := range []string{"file:"+path+"?_pragma=locking_mode(EXCLUSIVE)", "file:"+path+"?_pragma=locking_mode=EXCLUSIVE"} {
 db,_:=sql.Open("sqlite", d)
 db.SetMaxOpenConns(1)
 var s string
 t.Log(db.QueryRow("pragma locking_mode").Scan(&s), s)
 t.Log(db.QueryRow("select count(*) from resin").Scan(&s), s)
 fs,_:=os.ReadDir(filepath.Dir(path)); for _,f:=range fs {t.Log(f.Name())}
 o,_:=os.ReadFile("/proc/locks"); t.Log(string(o))
 o,_=exec.Command("stat","-c","%i %n",path).Output(); t.Log(string(o))
 o,err:=exec.Command("python3","-c","import sqlite3;c=sqlite3.connect('"+path+"',timeout=0.1);print(c.execute('select count(*) from resin').fetchall())").CombinedOutput(); t.Log(string(o),err)
 db.Close()
 }
}
