//! Writes the three figures with made-up numbers into a folder, to be looked at:
//! `cargo run -p levigate-documents --example figures -- FOLDER`.

use levigate_documents::figure::{
    Mark, PhWindow, Rendition, ShareCurve, SharePoint, Span, TitrationFigure, TitrationPoint, WindowsFigure,
    WorkingShareFigure,
};
use std::error::Error;
use std::path::Path;

fn share(name: &str, pka: f64) -> ShareCurve {
    let points = (0..=50)
        .map(|at| {
            let ph = 3.0 + 0.1 * f64::from(at);
            let of = |pka: f64| 100.0 / (1.0 + 10f64.powf(ph - pka));
            SharePoint { ph, percent: of(pka), low: Some(of(pka - 0.1)), high: Some(of(pka + 0.1)) }
        })
        .collect();
    ShareCurve { name: name.to_owned(), points }
}

fn window(name: &str, why: &str, low: Option<f64>, high: Option<f64>) -> PhWindow {
    PhWindow { name: name.to_owned(), why: why.to_owned(), low, high }
}

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("name a folder to write to")?;
    let folder = Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    let target = Some(Span::new(4.6, 5.2));
    let windows = WindowsFigure {
        id: "windows".to_owned(),
        title: "pH windows of the toner".to_owned(),
        target,
        ph: Some(4.81),
        windows: vec![
            window("Sodium benzoate", "preservative works", Some(2.5), Some(5.0)),
            window("Potassium sorbate", "preservative works", None, Some(5.5)),
            window("Niacinamide", "active survives", Some(5.0), Some(7.0)),
            window("Xanthan gum, clear grade", "thickener works", Some(3.0), Some(11.0)),
        ],
    };
    let mut clash = windows.clone();
    clash.id = "clash".to_owned();
    clash.windows[2].low = Some(5.6);
    let curve =
        |at: i32| 4.2 + (7.2 - 4.2) / (1.0 + (0.06 * f64::from(at) - 1.1).exp()) - 0.012 * f64::from(at);
    let titration = TitrationFigure {
        id: "titration".to_owned(),
        title: "pH against citric acid".to_owned(),
        titrant: "Citric acid, anhydrous".to_owned(),
        unit: "% of the product".to_owned(),
        points: (0..=80)
            .map(|at| TitrationPoint {
                amount: 0.0025 * f64::from(at),
                ph: curve(at),
                low: Some(curve(at) - 0.12),
                high: Some(curve(at) + 0.12),
            })
            .collect(),
        target,
        marks: vec![
            Mark { amount: 0.118, ph: curve(47), label: "as written".to_owned() },
            Mark { amount: 0.0, ph: curve(0), label: "none".to_owned() },
        ],
    };
    let shares = WorkingShareFigure {
        id: "shares".to_owned(),
        title: "Working share of the preservatives".to_owned(),
        curves: vec![share("benzoic acid", 4.2), share("sorbic acid", 4.76), share("p-anisic acid", 4.47)],
        window: target,
        logarithmic: false,
    };
    let mut logarithmic = shares.clone();
    logarithmic.id = "shares-log".to_owned();
    logarithmic.logarithmic = true;
    let mut page = String::from(
        "<!doctype html><meta charset=utf-8><title>Figures</title><style>body{margin:0;display:grid;grid-template-columns:1fr 1fr}\
         .s{padding:24px;background:#fcfdfa;color:#1a211e}.d{padding:24px;background:#22292b;color:#eceee6;--ink-2:#b1bbb4;--rule:#3a4446;\
         --band:#33413c;--pen:#9cc4f7;--paper:#22292b}svg{max-width:100%;height:auto;display:block}</style>",
    );
    for svg in
        [windows.svg(Rendition::Screen), titration.svg(Rendition::Screen), shares.svg(Rendition::Screen)]
    {
        page.push_str(&format!("<div class=s>{svg}</div><div class=d>{svg}</div>"));
    }
    for svg in [clash.svg(Rendition::Print), logarithmic.svg(Rendition::Print)] {
        page.push_str(&format!("<div class=s>{svg}</div>"));
    }
    std::fs::write(folder.join("figures.html"), page)?;
    std::fs::write(folder.join("windows.svg"), windows.svg(Rendition::Print))?;
    std::fs::write(folder.join("titration.csv"), titration.table().csv())?;
    Ok(())
}
