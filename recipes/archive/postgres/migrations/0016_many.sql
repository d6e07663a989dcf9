-- Many records at once cost little each: what a record gives to the tables for
-- finding is taken of all that a statement adds together, and functions keep their
-- plans from call to call. Plans that are kept must not read a table from end to end
-- because it was small when they were made.

-- +goose Up

-- The same bodies in the language that keeps plans.
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION plain(t text) RETURNS text LANGUAGE plpgsql IMMUTABLE STRICT PARALLEL SAFE AS $$ BEGIN
RETURN CASE WHEN t !~ '[^\x01-\x7f]' THEN lower(t COLLATE "C") ELSE (
	SELECT string_agg(CASE WHEN c <= '~' COLLATE "C" THEN lower(c COLLATE "C") ELSE translate(c,
'µÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÐÑÒÓÔÕÖØÙÚÛÜÝÞàáâãäåçèéêëìíîïñòóôõöùúûüýÿĀāĂăĄąĆćĈĉĊċČčĎďĐĒēĔĕĖėĘęĚěĜĝĞğĠġĢģĤĥĦĨĩĪīĬĭĮįİĲĴĵĶķĹĺĻļĽľĿŁŃńŅņŇňŊŌōŎŏŐőŒŔŕŖŗŘřŚśŜŝŞşŠšŢţŤťŦŨũŪūŬŭŮůŰűŲųŴŵŶŷŸŹźŻżŽžſƁƂƄƆƇƉƊƋƎƏƐƑƓƔƖƗƘƜƝƟƠơƢƤƦƧƩƬƮƯưƱƲƳƵƷƸƼǄǅǇǈǊǋǍǎǏǐǑǒǓǔǕǖǗǘǙǚǛǜǞǟǠǢǤǦǧǨǩǪǫǬǭǮǰǱǲǴǵǶǷǸǹǺǻǼǾȀȁȂȃȄȅȆȇȈȉȊȋȌȍȎȏȐȑȒȓȔȕȖȗȘșȚțȜȞȟȠȢȤȦȧȨȩȪȫȬȭȮȯȰȱȲȳȺȻȽȾɁɃɄɅɆɈɊɌɎͰͲͶΆΈΉΊΌΎΏΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩΪΫςϏϐϑϕϖϘϚϜϞϠϢϤϦϨϪϬϮϰϱϴϵϷϹϺϽϾϿЀЁЂЃЄЅІЇЈЉЊЋЌЍЎЏАБВГДЕЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯѠѢѤѦѨѪѬѮѰѲѴѶѸѺѼѾҀҊҌҎҐҒҔҖҘҚҜҞҠҢҤҦҨҪҬҮҰҲҴҶҸҺҼҾӀӁӃӅӇӉӋӍӐӒӔӖӘӚӜӞӠӢӤӦӨӪӬӮӰӲӴӶӸӺӼӾԀԂԄԆԈԊԌԎԐԒԔԖԘԚԜԞԠԢԤԦԱԲԳԴԵԶԷԸԹԺԻԼԽԾԿՀՁՂՃՄՅՆՇՈՉՊՋՌՍՎՏՐՑՒՓՔՕՖႠႡႢႣႤႥႦႧႨႩႪႫႬႭႮႯႰႱႲႳႴႵႶႷႸႹႺႻႼႽႾႿჀჁჂჃჄჅჇჍḀḁḂḃḄḅḆḇḈḉḊḋḌḍḎḏḐḑḒḓḔḕḖḗḘḙḚḛḜḝḞḟḠḡḢḣḤḥḦḧḨḩḪḫḬḭḮḯḰḱḲḳḴḵḶḷḸḹḺḻḼḽḾḿṀṁṂṃṄṅṆṇṈṉṊṋṌṍṎṏṐṑṒṓṔṕṖṗṘṙṚṛṜṝṞṟṠṡṢṣṤṥṦṧṨṩṪṫṬṭṮṯṰṱṲṳṴṵṶṷṸṹṺṻṼṽṾṿẀẁẂẃẄẅẆẇẈẉẊẋẌẍẎẏẐẑẒẓẔẕẖẗẘẙẛẞẠạẢảẤấẦầẨẩẪẫẬậẮắẰằẲẳẴẵẶặẸẹẺẻẼẽẾếỀềỂểỄễỆệỈỉỊịỌọỎỏỐốỒồỔổỖỗỘộỚớỜờỞởỠỡỢợỤụỦủỨứỪừỬửỮữỰựỲỳỴỵỶỷỸỹỺỼỾἈἉἊἋἌἍἎἏἘἙἚἛἜἝἨἩἪἫἬἭἮἯἸἹἺἻἼἽἾἿὈὉὊὋὌὍὙὛὝὟὨὩὪὫὬὭὮὯᾈᾉᾊᾋᾌᾍᾎᾏᾘᾙᾚᾛᾜᾝᾞᾟᾨᾩᾪᾫᾬᾭᾮᾯᾸᾹᾺΆᾼιῈΈῊΉῌῘῙῚΊῨῩῪΎῬῸΌῺΏῼΩKÅℲⅠⅡⅢⅣⅤⅥⅦⅧⅨⅩⅪⅫⅬⅭⅮⅯↃⰀⰁⰂⰃⰄⰅⰆⰇⰈⰉⰊⰋⰌⰍⰎⰏⰐⰑⰒⰓⰔⰕⰖⰗⰘⰙⰚⰛⰜⰝⰞⰟⰠⰡⰢⰣⰤⰥⰦⰧⰨⰩⰪⰫⰬⰭⰮⱠⱢⱣⱤⱧⱩⱫⱭⱮⱯⱰⱲⱵⱾⱿⲀⲂⲄⲆⲈⲊⲌⲎⲐⲒⲔⲖⲘⲚⲜⲞⲠⲢⲤⲦⲨⲪⲬⲮⲰⲲⲴⲶⲸⲺⲼⲾⳀⳂⳄⳆⳈⳊⳌⳎⳐⳒⳔⳖⳘⳚⳜⳞⳠⳢⳫⳭⳲꙀꙂꙄꙆꙈꙊꙌꙎꙐꙒꙔꙖꙘꙚꙜꙞꙠꙢꙤꙦꙨꙪꙬꚀꚂꚄꚆꚈꚊꚌꚎꚐꚒꚔꚖꜢꜤꜦꜨꜪꜬꜮꜲꜴꜶꜸꜺꜼꜾꝀꝂꝄꝆꝈꝊꝌꝎꝐꝒꝔꝖꝘꝚꝜꝞꝠꝢꝤꝦꝨꝪꝬꝮꝹꝻꝽꝾꞀꞂꞄꞆꞋꞍꞐꞒꞠꞢꞤꞦꞨꞪＡＢＣＤＥＦＧＨＩＪＫＬＭＮＯＰＱＲＳＴＵＶＷＸＹＺ𐐀𐐁𐐂𐐃𐐄𐐅𐐆𐐇𐐈𐐉𐐊𐐋𐐌𐐍𐐎𐐏𐐐𐐑𐐒𐐓𐐔𐐕𐐖𐐗𐐘𐐙𐐚𐐛𐐜𐐝𐐞𐐟𐐠𐐡𐐢𐐣𐐤𐐥𐐦𐐧',
'μaaaaaaæceeeeiiiiðnoooooøuuuuyþaaaaaaceeeeiiiinooooouuuuyyaaaaaaccccccccddđeeeeeeeeeegggggggghhħiiiiiiiiiĳjjkkllllllŀłnnnnnnŋooooooœrrrrrrssssssssttttŧuuuuuuuuuuuuwwyyyzzzzzzsɓƃƅɔƈɖɗƌǝəɛƒɠɣɩɨƙɯɲɵooƣƥʀƨʃƭʈuuʊʋƴƶʒƹƽǆǆǉǉǌǌaaiioouuuuuuuuuuaaǡǣǥggkkooooǯjǳǳggƕƿnnaaǽǿaaaaeeeeiiiioooorrrruuuussttȝhhƞȣȥaaeeooooooooyyⱥȼƚⱦɂƀʉʌɇɉɋɍɏͱͳͷάέήίόύώαβγδεζηθικλμνξοπρστυφχψωϊϋσϗβθφπϙϛϝϟϡϣϥϧϩϫϭϯκρθεϸϲϻͻͼͽѐёђѓєѕіїјљњћќѝўџабвгдежзийклмнопрстуфхцчшщъыьэюяѡѣѥѧѩѫѭѯѱѳѵѷѹѻѽѿҁҋҍҏґғҕҗҙқҝҟҡңҥҧҩҫҭүұҳҵҷҹһҽҿӏӂӄӆӈӊӌӎӑӓӕӗәӛӝӟӡӣӥӧөӫӭӯӱӳӵӷӹӻӽӿԁԃԅԇԉԋԍԏԑԓԕԗԙԛԝԟԡԣԥԧաբգդեզէըթժիլխծկհձղճմյնշոչպջռսվտրցւփքօֆⴀⴁⴂⴃⴄⴅⴆⴇⴈⴉⴊⴋⴌⴍⴎⴏⴐⴑⴒⴓⴔⴕⴖⴗⴘⴙⴚⴛⴜⴝⴞⴟⴠⴡⴢⴣⴤⴥⴧⴭaabbbbbbccddddddddddeeeeeeeeeeffgghhhhhhhhhhiiiikkkkkkllllllllmmmmmmnnnnnnnnoooooooopppprrrrrrrrssssssssssttttttttuuuuuuuuuuvvvvwwwwwwwwwwxxxxyyzzzzzzhtwysßaaaaaaaaaaaaaaaaaaaaaaaaeeeeeeeeeeeeeeeeiiiioooooooooooooooooooooooouuuuuuuuuuuuuuyyyyyyyyỻỽỿἀἁἂἃἄἅἆἇἐἑἒἓἔἕἠἡἢἣἤἥἦἧἰἱἲἳἴἵἶἷὀὁὂὃὄὅὑὓὕὗὠὡὢὣὤὥὦὧᾀᾁᾂᾃᾄᾅᾆᾇᾐᾑᾒᾓᾔᾕᾖᾗᾠᾡᾢᾣᾤᾥᾦᾧᾰᾱὰάᾳιὲέὴήῃῐῑὶίῠῡὺύῥὸόὼώῳωkaⅎⅰⅱⅲⅳⅴⅵⅶⅷⅸⅹⅺⅻⅼⅽⅾⅿↄⰰⰱⰲⰳⰴⰵⰶⰷⰸⰹⰺⰻⰼⰽⰾⰿⱀⱁⱂⱃⱄⱅⱆⱇⱈⱉⱊⱋⱌⱍⱎⱏⱐⱑⱒⱓⱔⱕⱖⱗⱘⱙⱚⱛⱜⱝⱞⱡɫᵽɽⱨⱪⱬɑɱɐɒⱳⱶȿɀⲁⲃⲅⲇⲉⲋⲍⲏⲑⲓⲕⲗⲙⲛⲝⲟⲡⲣⲥⲧⲩⲫⲭⲯⲱⲳⲵⲷⲹⲻⲽⲿⳁⳃⳅⳇⳉⳋⳍⳏⳑⳓⳕⳗⳙⳛⳝⳟⳡⳣⳬⳮⳳꙁꙃꙅꙇꙉꙋꙍꙏꙑꙓꙕꙗꙙꙛꙝꙟꙡꙣꙥꙧꙩꙫꙭꚁꚃꚅꚇꚉꚋꚍꚏꚑꚓꚕꚗꜣꜥꜧꜩꜫꜭꜯꜳꜵꜷꜹꜻꜽꜿꝁꝃꝅꝇꝉꝋꝍꝏꝑꝓꝕꝗꝙꝛꝝꝟꝡꝣꝥꝧꝩꝫꝭꝯꝺꝼᵹꝿꞁꞃꞅꞇꞌɥꞑꞓꞡꞣꞥꞧꞩɦａｂｃｄｅｆｇｈｉｊｋｌｍｎｏｐｑｒｓｔｕｖｗｘｙｚ𐐨𐐩𐐪𐐫𐐬𐐭𐐮𐐯𐐰𐐱𐐲𐐳𐐴𐐵𐐶𐐷𐐸𐐹𐐺𐐻𐐼𐐽𐐾𐐿𐑀𐑁𐑂𐑃𐑄𐑅𐑆𐑇𐑈𐑉𐑊𐑋𐑌𐑍𐑎𐑏') END, '' ORDER BY n)
	FROM regexp_split_to_table(regexp_replace(t, '[\U00000300-\U00000304\U00000306-\U0000030C\U0000030F\U00000311\U0000031B\U00000323-\U00000328\U0000032D-\U0000032E\U00000330-\U00000331]', '', 'g'), '') WITH ORDINALITY AS letter (c, n)) END;
END $$;

CREATE OR REPLACE FUNCTION words(t text) RETURNS text[] LANGUAGE plpgsql IMMUTABLE STRICT PARALLEL SAFE SET search_path FROM CURRENT AS $$ BEGIN
RETURN string_to_array(trim(CASE WHEN t !~ '[^\x01-\x7f]'
	THEN regexp_replace(plain(t), '[^0-9a-z]+', ' ', 'g')
	ELSE regexp_replace(plain(t), '[^0-9a-z\U000000AA\U000000B2-\U000000B3\U000000B5\U000000B9-\U000000BA\U000000BC-\U000000BE\U000000C0-\U000000D6\U000000D8-\U000000F6\U000000F8-\U000002C1\U000002C6-\U000002D1\U000002E0-\U000002E4\U000002EC\U000002EE\U00000370-\U00000374\U00000376-\U0000037D\U0000037F-\U00000383\U00000386\U00000388-\U000003F5\U000003F7-\U00000481\U0000048A-\U00000559\U00000560-\U00000588\U0000058B-\U0000058E\U00000590\U000005C8-\U000005F2\U000005F5-\U000005FF\U00000605\U0000061C-\U0000061D\U00000620-\U0000064A\U00000660-\U00000669\U0000066E-\U0000066F\U00000671-\U000006D3\U000006D5\U000006E5-\U000006E6\U000006EE-\U000006FC\U000006FF\U0000070E\U00000710\U00000712-\U0000072F\U0000074B-\U000007A5\U000007B1-\U000007EA\U000007F4-\U000007F5\U000007FA-\U00000815\U0000081A\U00000824\U00000828\U0000082E-\U0000082F\U0000083F-\U00000858\U0000085C-\U0000085D\U0000085F-\U000008E3\U000008FF\U00000904-\U00000939\U0000093D\U00000950\U00000958-\U00000961\U00000966-\U0000096F\U00000971-\U00000980\U00000984-\U000009BB\U000009BD\U000009C5-\U000009C6\U000009C9-\U000009CA\U000009CE-\U000009D6\U000009D8-\U000009E1\U000009E4-\U000009F1\U000009F4-\U000009F9\U000009FC-\U00000A00\U00000A04-\U00000A3B\U00000A3D\U00000A43-\U00000A46\U00000A49-\U00000A4A\U00000A4E-\U00000A50\U00000A52-\U00000A6F\U00000A72-\U00000A74\U00000A76-\U00000A80\U00000A84-\U00000ABB\U00000ABD\U00000AC6\U00000ACA\U00000ACE-\U00000AE1\U00000AE4-\U00000AEF\U00000AF2-\U00000B00\U00000B04-\U00000B3B\U00000B3D\U00000B45-\U00000B46\U00000B49-\U00000B4A\U00000B4E-\U00000B55\U00000B58-\U00000B61\U00000B64-\U00000B6F\U00000B71-\U00000B81\U00000B83-\U00000BBD\U00000BC3-\U00000BC5\U00000BC9\U00000BCE-\U00000BD6\U00000BD8-\U00000BF2\U00000BFB-\U00000C00\U00000C04-\U00000C3D\U00000C45\U00000C49\U00000C4E-\U00000C54\U00000C57-\U00000C61\U00000C64-\U00000C7E\U00000C80-\U00000C81\U00000C84-\U00000CBB\U00000CBD\U00000CC5\U00000CC9\U00000CCE-\U00000CD4\U00000CD7-\U00000CE1\U00000CE4-\U00000D01\U00000D04-\U00000D3D\U00000D45\U00000D49\U00000D4E-\U00000D56\U00000D58-\U00000D61\U00000D64-\U00000D78\U00000D7A-\U00000D81\U00000D84-\U00000DC9\U00000DCB-\U00000DCE\U00000DD5\U00000DD7\U00000DE0-\U00000DF1\U00000DF5-\U00000E30\U00000E32-\U00000E33\U00000E3B-\U00000E3E\U00000E40-\U00000E46\U00000E50-\U00000E59\U00000E5C-\U00000EB0\U00000EB2-\U00000EB3\U00000EBA\U00000EBD-\U00000EC7\U00000ECE-\U00000F00\U00000F20-\U00000F33\U00000F40-\U00000F70\U00000F88-\U00000F8C\U00000F98\U00000FBD\U00000FCD\U00000FDB-\U0000102A\U0000103F-\U00001049\U00001050-\U00001055\U0000105A-\U0000105D\U00001061\U00001065-\U00001066\U0000106E-\U00001070\U00001075-\U00001081\U0000108E\U00001090-\U00001099\U000010A0-\U000010FA\U000010FC-\U0000135C\U00001369-\U0000138F\U0000139A-\U000013FF\U00001401-\U0000166C\U0000166F-\U0000167F\U00001681-\U0000169A\U0000169D-\U000016EA\U000016EE-\U00001711\U00001715-\U00001731\U00001737-\U00001751\U00001754-\U00001771\U00001774-\U000017B3\U000017D7\U000017DC\U000017DE-\U000017FF\U0000180F-\U000018A8\U000018AA-\U0000191F\U0000192C-\U0000192F\U0000193C-\U0000193F\U00001941-\U00001943\U00001946-\U000019AF\U000019C1-\U000019C7\U000019CA-\U000019DD\U00001A00-\U00001A16\U00001A1C-\U00001A1D\U00001A20-\U00001A54\U00001A5F\U00001A7D-\U00001A7E\U00001A80-\U00001A9F\U00001AA7\U00001AAE-\U00001AFF\U00001B05-\U00001B33\U00001B45-\U00001B59\U00001B7D-\U00001B7F\U00001B83-\U00001BA0\U00001BAE-\U00001BE5\U00001BF4-\U00001BFB\U00001C00-\U00001C23\U00001C38-\U00001C3A\U00001C40-\U00001C7D\U00001C80-\U00001CBF\U00001CC8-\U00001CCF\U00001CE9-\U00001CEC\U00001CEE-\U00001CF1\U00001CF5-\U00001DBF\U00001DE7-\U00001DFB\U00001E00-\U00001FBC\U00001FBE\U00001FC2-\U00001FCC\U00001FD0-\U00001FDC\U00001FE0-\U00001FEC\U00001FF0-\U00001FFC\U00001FFF\U00002065-\U00002069\U00002070-\U00002079\U0000207F-\U00002089\U0000208F-\U0000209F\U000020BA-\U000020CF\U000020F1-\U000020FF\U00002102\U00002107\U0000210A-\U00002113\U00002115\U00002119-\U0000211D\U00002124\U00002126\U00002128\U0000212A-\U0000212D\U0000212F-\U00002139\U0000213C-\U0000213F\U00002145-\U00002149\U0000214E\U00002150-\U0000218F\U000023F4-\U000023FF\U00002427-\U0000243F\U0000244B-\U0000249B\U000024EA-\U000024FF\U00002700\U00002776-\U00002793\U00002B4D-\U00002B4F\U00002B5A-\U00002CE4\U00002CEB-\U00002CEE\U00002CF2-\U00002CF8\U00002CFD\U00002D00-\U00002D6F\U00002D71-\U00002D7E\U00002D80-\U00002DDF\U00002E2F\U00002E3C-\U00002E7F\U00002E9A\U00002EF4-\U00002EFF\U00002FD6-\U00002FEF\U00002FFC-\U00002FFF\U00003005-\U00003007\U00003021-\U00003029\U00003031-\U00003035\U00003038-\U0000303C\U00003040-\U00003098\U0000309D-\U0000309F\U000030A1-\U000030FA\U000030FC-\U0000318F\U00003192-\U00003195\U000031A0-\U000031BF\U000031E4-\U000031FF\U0000321F-\U00003229\U00003248-\U0000324F\U00003251-\U0000325F\U00003280-\U00003289\U000032B1-\U000032BF\U000032FF\U00003400-\U00004DBF\U00004E00-\U0000A48F\U0000A4C7-\U0000A4FD\U0000A500-\U0000A60C\U0000A610-\U0000A66E\U0000A67F-\U0000A69E\U0000A6A0-\U0000A6EF\U0000A6F8-\U0000A6FF\U0000A717-\U0000A71F\U0000A722-\U0000A788\U0000A78B-\U0000A801\U0000A803-\U0000A805\U0000A807-\U0000A80A\U0000A80C-\U0000A822\U0000A82C-\U0000A835\U0000A83A-\U0000A873\U0000A878-\U0000A87F\U0000A882-\U0000A8B3\U0000A8C5-\U0000A8CD\U0000A8D0-\U0000A8DF\U0000A8F2-\U0000A8F7\U0000A8FB-\U0000A925\U0000A930-\U0000A946\U0000A954-\U0000A95E\U0000A960-\U0000A97F\U0000A984-\U0000A9B2\U0000A9CE-\U0000A9DD\U0000A9E0-\U0000AA28\U0000AA37-\U0000AA42\U0000AA44-\U0000AA4B\U0000AA4E-\U0000AA5B\U0000AA60-\U0000AA76\U0000AA7A\U0000AA7C-\U0000AAAF\U0000AAB1\U0000AAB5-\U0000AAB6\U0000AAB9-\U0000AABD\U0000AAC0\U0000AAC2-\U0000AADD\U0000AAE0-\U0000AAEA\U0000AAF2-\U0000AAF4\U0000AAF7-\U0000ABE2\U0000ABEE-\U0000D7FF\U0000E000-\U0000FB1D\U0000FB1F-\U0000FB28\U0000FB2A-\U0000FBB1\U0000FBC2-\U0000FD3D\U0000FD40-\U0000FDFB\U0000FDFE-\U0000FDFF\U0000FE1A-\U0000FE1F\U0000FE27-\U0000FE2F\U0000FE53\U0000FE67\U0000FE6C-\U0000FEFE\U0000FF00\U0000FF10-\U0000FF19\U0000FF21-\U0000FF3A\U0000FF41-\U0000FF5A\U0000FF66-\U0000FFDF\U0000FFE7\U0000FFEF-\U0000FFF8\U00010000-\U000100FF\U00010103-\U00010136\U00010140-\U00010178\U0001018A-\U0001018F\U0001019C-\U000101CF\U000101FE-\U0001039E\U000103A0-\U000103CF\U000103D1-\U00010856\U00010858-\U0001091E\U00010920-\U0001093E\U00010940-\U00010A00\U00010A04\U00010A07-\U00010A0B\U00010A10-\U00010A37\U00010A3B-\U00010A3E\U00010A40-\U00010A4F\U00010A59-\U00010A7E\U00010A80-\U00010B38\U00010B40-\U00010FFF\U00011003-\U00011037\U0001104E-\U0001107F\U00011083-\U000110AF\U000110C2-\U000110FF\U00011103-\U00011126\U00011135-\U0001113F\U00011144-\U0001117F\U00011183-\U000111B2\U000111C1-\U000111C4\U000111C9-\U000116AA\U000116B8-\U0001246F\U00012474-\U00016F50\U00016F7F-\U00016F8E\U00016F93-\U0001CFFF\U0001D0F6-\U0001D0FF\U0001D127-\U0001D128\U0001D1DE-\U0001D1FF\U0001D246-\U0001D2FF\U0001D357-\U0001D6C0\U0001D6C2-\U0001D6DA\U0001D6DC-\U0001D6FA\U0001D6FC-\U0001D714\U0001D716-\U0001D734\U0001D736-\U0001D74E\U0001D750-\U0001D76E\U0001D770-\U0001D788\U0001D78A-\U0001D7A8\U0001D7AA-\U0001D7C2\U0001D7C4-\U0001EEEF\U0001EEF2-\U0001EFFF\U0001F02C-\U0001F02F\U0001F094-\U0001F09F\U0001F0AF-\U0001F0B0\U0001F0BF-\U0001F0C0\U0001F0D0\U0001F0E0-\U0001F10F\U0001F12F\U0001F16C-\U0001F16F\U0001F19B-\U0001F1E5\U0001F203-\U0001F20F\U0001F23B-\U0001F23F\U0001F249-\U0001F24F\U0001F252-\U0001F2FF\U0001F321-\U0001F32F\U0001F336\U0001F37D-\U0001F37F\U0001F394-\U0001F39F\U0001F3C5\U0001F3CB-\U0001F3DF\U0001F3F1-\U0001F3FF\U0001F43F\U0001F441\U0001F4F8\U0001F4FD-\U0001F4FF\U0001F53E-\U0001F53F\U0001F544-\U0001F54F\U0001F568-\U0001F5FA\U0001F641-\U0001F644\U0001F650-\U0001F67F\U0001F6C6-\U0001F6FF\U0001F774-\U0002FFFF]+', ' ', 'g') END), ' ');
END $$;

CREATE OR REPLACE FUNCTION lexemes(t text) RETURNS tsvector LANGUAGE plpgsql IMMUTABLE STRICT PARALLEL SAFE SET search_path FROM CURRENT AS $$ BEGIN
RETURN coalesce((SELECT string_agg(format('''%s'':%s', left(w, 500), least(n, 16383)), ' ')
	FROM unnest(words(t)) WITH ORDINALITY AS word (w, n)), '')::tsvector;
END $$;

CREATE OR REPLACE FUNCTION beginnings(t text) RETURNS tsquery LANGUAGE plpgsql IMMUTABLE STRICT PARALLEL SAFE SET search_path FROM CURRENT AS $$ BEGIN
RETURN (SELECT string_agg(
	coalesce((SELECT '(' || string_agg('''' || left(w, 500) || '''', ' <-> ' ORDER BY n) || ':*)' FROM unnest(words(field)) WITH ORDINALITY AS word (w, n)),
		'''~'''), ' & ') -- which is no word of any text
	FROM unnest(string_to_array(t, ' ')) field)::tsquery;
END $$;

-- A query takes it for a part of its own, which it cannot where a function is strict
-- or looks anything up first.
CREATE OR REPLACE FUNCTION json_each(doc text, path text, OUT key text, OUT value text) RETURNS SETOF record IMMUTABLE PARALLEL SAFE
BEGIN ATOMIC
	SELECT f.key, f.value FROM json_each_text(CASE json_typeof(doc::json -> substr(path, 3)) WHEN 'object' THEN doc::json -> substr(path, 3) END) f
	UNION ALL
	SELECT (n - 1)::text, v FROM json_array_elements_text(CASE json_typeof(doc::json -> substr(path, 3)) WHEN 'array' THEN doc::json -> substr(path, 3) END) WITH ORDINALITY AS f (v, n);
END;

-- Each table has a function that numbers its rows.
DO $$ DECLARE t text; BEGIN
	FOR t IN SELECT relname FROM pg_trigger JOIN pg_class c ON c.oid = tgrelid
		WHERE relnamespace = current_schema()::regnamespace AND tgname = 'numbered'
	LOOP
		EXECUTE format('DROP TRIGGER numbered ON %I', t);
	END LOOP;
END $$;
DROP FUNCTION numbered();
CREATE OR REPLACE PROCEDURE guard() LANGUAGE plpgsql AS $$ DECLARE t record; BEGIN
	FOR t IN SELECT relname AS name, EXISTS (SELECT 1 FROM pg_trigger WHERE tgrelid = c.oid AND tgname = 'kept') AS kept,
			EXISTS (SELECT 1 FROM pg_trigger WHERE tgrelid = c.oid AND tgname = 'numbered')
				OR NOT EXISTS (SELECT 1 FROM pg_attribute WHERE attrelid = c.oid AND attname = 'id') AS numbered
		FROM pg_class c WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r' AND relname <> 'goose_db_version'
	LOOP
		IF NOT t.kept THEN
			EXECUTE format('CREATE TRIGGER kept BEFORE UPDATE OR DELETE OR TRUNCATE ON %I EXECUTE FUNCTION kept()', t.name);
		END IF;
		IF NOT t.numbered THEN
			EXECUTE format('CREATE FUNCTION %I() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT SET enable_seqscan = off AS %L', t.name || '_numbered',
				format('BEGIN NEW.id := (SELECT coalesce(max(id), 0) + 1 FROM %I); RETURN NEW; END', t.name));
			EXECUTE format('CREATE TRIGGER numbered BEFORE INSERT ON %I FOR EACH ROW EXECUTE FUNCTION %I()', t.name, t.name || '_numbered');
		END IF;
	END LOOP;
END $$;
CALL guard();

DROP TRIGGER made ON chip_card;
CREATE OR REPLACE FUNCTION chip_loaded() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT SET enable_seqscan = off AS $$ BEGIN
	INSERT INTO chip_loading (chip, pigment, phr) SELECT added.id, key, value::double precision FROM added, json_each(added.doc, '$.loadings');
	RETURN NULL;
END $$;
CREATE TRIGGER made AFTER INSERT ON chip_card REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION chip_loaded();

DROP TRIGGER made ON calibration;
CREATE OR REPLACE FUNCTION calibration_fitted() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT SET enable_seqscan = off AS $$ BEGIN
	INSERT INTO calibration_chip (calibration, chip) SELECT added.id, value FROM added, json_each(added.doc, '$.chips');
	RETURN NULL;
END $$;
CREATE TRIGGER made AFTER INSERT ON calibration REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION calibration_fitted();

-- What the views record_color and record_words say of recipes, reading each document
-- as few times as it takes.
DROP TRIGGER made ON recipe;
CREATE OR REPLACE FUNCTION recipe_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT SET enable_seqscan = off AS $$ BEGIN
	INSERT INTO recipe_loading (recipe, pigment, phr)
	SELECT added.id, key, value::double precision FROM added, json_to_record(doc::json) AS r (loadings json),
		json_each_text(CASE json_typeof(loadings) WHEN 'object' THEN loadings END);
	INSERT INTO light (illuminant, observer)
	SELECT DISTINCT illuminant, observer FROM added, json_to_record(doc::json) AS r (predicted json),
		json_to_recordset(CASE json_typeof(predicted) WHEN 'array' THEN predicted END) AS p (illuminant text, observer bigint) ON CONFLICT DO NOTHING;
	INSERT INTO color (recipe, resin, light, approved, l, a, b)
	SELECT added.id, (SELECT min(id) FROM resin_card WHERE code = added.resin), light.id, 0, "L", a, b FROM added, json_to_record(doc::json) AS r (predicted json),
		json_to_recordset(CASE json_typeof(predicted) WHEN 'array' THEN predicted END) AS p (illuminant text, observer bigint, "L" double precision, a double precision, b double precision)
		JOIN light USING (illuminant, observer);
	INSERT INTO word_index (words, kind, record)
	SELECT concat_ws(' ', client, target, resin, r.name, note, (SELECT string_agg(key, ' ') FROM json_object_keys(CASE json_typeof(loadings) WHEN 'object' THEN loadings END) AS key),
		(SELECT part FROM target_card WHERE sum = added.target_card)), 'recipe', id FROM added, json_to_record(doc::json) AS r (name text, note text, loadings json);
	RETURN NULL;
END $$;
CREATE TRIGGER made AFTER INSERT ON recipe REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION recipe_made();

DROP TRIGGER made ON pour;
CREATE OR REPLACE FUNCTION pour_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT SET enable_seqscan = off AS $$ BEGIN
	INSERT INTO pour_lot (pour, item, code, name)
	SELECT added.id, value ->> '$.item', value ->> '$.code', value ->> '$.name' FROM added, json_each(added.doc, '$.lots');
	RETURN NULL;
END $$;
CREATE TRIGGER made AFTER INSERT ON pour REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION pour_made();

DROP TRIGGER made ON approval;
CREATE OR REPLACE FUNCTION approval_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT SET enable_seqscan = off AS $$ BEGIN
	INSERT INTO approval_pour (approval, pour) SELECT added.id, value FROM added, json_each(added.doc, '$.pours');
	INSERT INTO light (illuminant, observer)
	SELECT DISTINCT value ->> '$.illuminant', (value ->> '$.observer')::bigint FROM added, json_each(added.doc, '$.colors') ON CONFLICT DO NOTHING;
	INSERT INTO color (recipe, resin, light, approved, l, a, b)
	SELECT recipe, resin, light, approved, l, a, b FROM record_color WHERE kind = 'approval' AND record = ANY (ARRAY(SELECT id FROM added)) ORDER BY record;
	INSERT INTO word_index (words, kind, record)
	SELECT words, kind, record FROM record_words WHERE kind = 'approval' AND record = ANY (ARRAY(SELECT id FROM added)) ORDER BY record;
	RETURN NULL;
END $$;
CREATE TRIGGER made AFTER INSERT ON approval REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION approval_made();

DROP TRIGGER made ON target_card;
CREATE OR REPLACE FUNCTION target_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT SET enable_seqscan = off AS $$ BEGIN
	INSERT INTO word_index (words, kind, record)
	SELECT words, kind, record FROM record_words WHERE kind = 'target' AND record = ANY (ARRAY(SELECT id FROM added)) ORDER BY record;
	RETURN NULL;
END $$;
CREATE TRIGGER made AFTER INSERT ON target_card REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION target_made();

DROP TRIGGER made ON plan;
CREATE OR REPLACE FUNCTION plan_made() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT SET enable_seqscan = off AS $$ BEGIN
	INSERT INTO plan_chip (plan, name) SELECT added.id, value ->> '$.name' FROM added, json_each(added.doc, '$.chips');
	RETURN NULL;
END $$;
CREATE TRIGGER made AFTER INSERT ON plan REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION plan_made();
-- +goose StatementEnd
