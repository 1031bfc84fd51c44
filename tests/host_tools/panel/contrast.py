"""Contrast of every text on the page, worked out in the page: WCAG 2.1, 4.5 to 1, or 3 to 1 for large text."""

CONTRAST_SCRIPT = """
    const channel = (v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
    const light = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
    const parse = (text) => { const m = text.match(/[\\d.]+/g); return m ? m.map(Number) : null; };
    const ground = (node) => {
        for (let at = node; at; at = at.parentElement) {
            const c = parse(getComputedStyle(at).backgroundColor);
            if (c && (c.length < 4 || c[3] > 0.99)) return c;
        }
        return [255, 255, 255];
    };
    const weak = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const node = walk.currentNode.parentElement, text = walk.currentNode.textContent.trim();
        if (!text || !node.getClientRects().length) continue;
        if (['SCRIPT', 'NOSCRIPT', 'OPTION', 'title'].includes(node.tagName)) continue;
        const style = getComputedStyle(node), isSvg = node instanceof SVGElement;
        let ink = parse(isSvg ? style.fill : style.color), paper = ground(node);
        if (isSvg && node.parentElement.classList.contains('now')) paper = [20, 32, 43];
        if (!ink || style.visibility === 'hidden') continue;
        const [a, b] = [light(ink), light(paper)].sort((x, y) => y - x);
        const ratio = (a + 0.05) / (b + 0.05);
        const px = parseFloat(style.fontSize), isLarge = px >= 24 || (px >= 18.66 && Number(style.fontWeight) >= 700);
        const name = node.id || node.className.baseVal || node.className;
        if (ratio < (isLarge ? 3 : 4.5)) weak.push([text, ratio.toFixed(2), name]);
    }
    return weak;
"""
"""Returns [text, ratio, element] of everything that is too weak; drawn text is judged by its fill."""
