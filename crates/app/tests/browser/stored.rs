//! What a browser keeps of the bench: presses, and the page of the open specimen; nothing of a
//! customer's (R58).

use super::at_bench::{AtBench, BEGIN};
use super::driver::to_test;
use super::hands::Hand;
use super::lost::kept_for_reload;

/// All that is kept for the pages of this origin, in one text; of scripts and looks their names.
const KEPT: &str = "(async () => {
  const kept = [JSON.stringify({ ...localStorage }), JSON.stringify({ ...sessionStorage })];
  kept.push(document.cookie);
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const asked of await cache.keys()) {
      const { pathname } = new URL(asked.url);
      const answer = await cache.match(asked);
      kept.push(pathname, pathname.startsWith('/assets/') ? '' : await answer.text());
    }
  }
  for (const { name } of await indexedDB.databases()) {
    const asked = indexedDB.open(name);
    await new Promise((resolve) => { asked.onsuccess = resolve; });
    for (const store of asked.result.objectStoreNames) {
      const all = asked.result.transaction(store).objectStore(store).getAll();
      await new Promise((resolve) => { all.onsuccess = resolve; });
      kept.push(`${name}/${store}`, JSON.stringify(all.result));
    }
    asked.result.close();
  }
  return kept.join('\\n');
})()";

#[tokio::test]
async fn a_browser_keeps_presses_and_nothing_of_a_customers() {
    let (served, _profile, browser) = to_test().await;
    let bench = AtBench::ready(&served, (&browser, Hand::Keyboard), BEGIN).await;
    bench.main("Flame on specimen").await;
    bench.in_record(1).await;
    kept_for_reload(&browser).await;
    let plan = served.page("/plans/2");
    for page in ["", "/plans/2", "/specimens/2-1", "/reports/1", "/", "/record"] {
        if !page.is_empty() {
            browser.go(&served.at(page)).await;
        }
        let kept = browser.value(KEPT).await;
        let kept = kept.as_str().unwrap();
        for there in ["flame-on", "cinderbook-bench/presses", "/bench/2/1"] {
            assert!(kept.contains(there), "{page}: {there} is not in {kept}");
        }
        // The job, the part and its mark, as the plan of this specimen has them.
        for theirs in ["script&gt;7", "cover", "LK-7"] {
            assert!(plan.contains(theirs), "{theirs} is not on the plan");
            assert!(!kept.contains(theirs), "{page}: {theirs} is in {kept}");
        }
    }
    drop(browser);
    served.ended();
}
